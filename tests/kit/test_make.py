"""A kit is begun only from step lists whose pictures are there."""

from __future__ import annotations

import shutil

import pytest

from evidence_app.errors import StepListError
from evidence_app.locations import sample
from evidence_app.machine.kit import make_kit
from evidence_app.package.keys.signing_key import create_key


def test_a_step_list_without_its_pictures_is_refused_before_anything_is_written(tmp_path):
    alone = shutil.copy(sample("ossmere-h7-bail-stand-exchange.toml"), tmp_path / "list.toml")
    depot = create_key(tmp_path / "key.pem", None, unencrypted=True)
    with pytest.raises(StepListError, match=r"pictures/check-ground\.png"):
        make_kit(tmp_path / "kit", depot, None, [alone], None)
    assert not (tmp_path / "kit").exists()
