"""The pictures of the steps: files beside the step list, which names the SHA-256 of each.

PNG and JPEG only: what can hold a program (SVG) is not taken.
"""

import hashlib
import io
from collections.abc import Iterator
from pathlib import Path as FilePath

from evidence_app import limits
from evidence_app.steplist.defect import Defect, Path, defect
from evidence_app.steplist.model import StepList, StepPicture

STEP_LIST = "step list"
"""The maker under which a job keeps them."""


def pictures_in(folder: FilePath, step_list: StepList) -> Iterator[tuple[StepPicture, bytes | Defect]]:
    """Each picture of the list, with its bytes from ``folder`` or why they cannot be shown."""
    for index, step in enumerate(step_list.steps):
        for number, picture in enumerate(step.pictures):
            yield picture, _read(folder / picture.file, picture, ("steps", index, "pictures", number))


def _read(path: FilePath, picture: StepPicture, place: Path) -> bytes | Defect:
    from PIL import Image  # slow to load, and most step lists are read without their pictures

    if not path.is_file():
        return defect((*place, "file"), "picture-missing", file=picture.file)
    try:
        with path.open("rb") as file:
            data = file.read(limits.STEP_PICTURE_BYTES + 1)
        with Image.open(io.BytesIO(data), formats=["PNG", "JPEG"]) as image:
            small = image.width * image.height <= limits.STEP_PICTURE_PIXELS
            whole = small and len(data) <= limits.STEP_PICTURE_BYTES and bool(image.load())
    except Exception:  # it cannot be read; and a hostile picture raises almost anything
        data, whole = b"", False
    if not whole:
        return defect(
            (*place, "file"),
            "no-picture",
            file=picture.file,
            most=limits.STEP_PICTURE_BYTES,
            pixels=limits.STEP_PICTURE_PIXELS,
        )
    found = hashlib.sha256(data).hexdigest()
    if found != picture.sha256:
        return defect((*place, "sha256"), "other-picture", file=picture.file, found=found)
    return data
