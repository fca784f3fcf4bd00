"""The cameras that the system knows, as the settings offer them."""

from __future__ import annotations

from evidence_app.devices.found import FoundDevice, cameras


def entry(folder, number: int, name: str, index: int) -> None:
    path = folder / f"video{number}"
    path.mkdir()
    (path / "name").write_text(f"{name}\n", "utf-8")
    (path / "index").write_text(f"{index}\n", "ascii")


def test_each_camera_is_found_once_in_the_order_of_its_number(tmp_path):
    entry(tmp_path, 10, "bench camera", 0)
    entry(tmp_path, 2, "front camera", 0)
    entry(tmp_path, 3, "front camera", 1)  # the data beside its pictures
    assert cameras(tmp_path) == (
        FoundDevice("camera:2", "front camera"),
        FoundDevice("camera:10", "bench camera"),
    )


def test_no_camera_and_no_folder_is_none(tmp_path):
    assert cameras(tmp_path / "absent") == ()
