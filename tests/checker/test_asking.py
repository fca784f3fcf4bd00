"""A package that answers a request, and forgeries of it: the page and the app judge alike."""

from __future__ import annotations

import pytest

from evidence_app.package.keys.keylist import DEPOT_KEY_NAME, signature_path
from evidence_app.package.verify.check import verify
from tests.asking import CLAIM, FORGERIES, SUPERVISOR_KEY, answered, ask, files_of, listing
from tests.checker.conftest import check
from tests.checker.test_agreement import compare
from tests.making import make_key, make_package


@pytest.mark.parametrize("forge", [None, *(forge for forge, _ in FORGERIES)])
def test_a_request_is_judged_alike(forge, tmp_path, shared):
    keys = listing(tmp_path, SUPERVISOR_KEY)
    asked = ask(
        make_package(tmp_path / "first", outcome="stopped", claim=CLAIM, key=make_key(2)).path, keys
    )
    if forge:
        forge(*files_of(asked))
    package, path = answered(tmp_path, asked), tmp_path / "keys.toml"
    shared.give_keys([path, signature_path(path), path.with_name(DEPOT_KEY_NAME)])
    app, page = verify(package, keys), shared.give(package)
    compare(app, page)
    found = check(page, "time-bracket")
    assert (found["outcome"] == "fails") == bool(forge)
    assert forge or "R. Tavares-Holm asked for it" in " ".join(found["items"])
