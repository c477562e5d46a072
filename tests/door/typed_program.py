"""A program that uses the door, for mypy --strict and the built wheel: the types that it states are those it gets."""

import tempfile
from pathlib import Path
from typing import assert_type

import imagekeeper

#: What may take an image from anywhere.
PROGRAM = b"TIDE" * 512


def sizes(*images: imagekeeper.Image) -> list[int]:
    """Give the sizes of images."""
    return [image.size_bytes for image in images]


def main(folder: Path) -> None:
    """Use every group of names once."""
    chip = folder / "u4.bin"
    chip.write_bytes(PROGRAM)
    assert_type(sizes(imagekeeper.read(chip), imagekeeper.read(PROGRAM)), list[int])
    with imagekeeper.open_image(str(chip)) as image:
        assert_type(image, imagekeeper.Image)
    assert_type(imagekeeper.compare(chip, PROGRAM).agree, bool)
    assert_type(imagekeeper.vote(PROGRAM, PROGRAM, PROGRAM).output, str | None)
    assert_type(imagekeeper.encode(PROGRAM, "intel-hex"), bytes)
    assert_type(imagekeeper.convert(chip, folder / "even.hex", lane=(0, 2)).size_bytes, int)
    assert_type(imagekeeper.find_chip("2716").bytes, int)
    assert_type(imagekeeper.narrow_chip(24, measured={12: "ground"}).candidates[0].part, str)
    assert_type(imagekeeper.substitute("2716").fits[0].part, str)
    assert_type(imagekeeper.solve(size_bytes=368_640).candidates[0].geometry, str)
    with imagekeeper.open_disk(bytes(368_640)) as disk:
        assert_type([entry.path for entry in disk.entries], list[str])
    assert_type(imagekeeper.html(imagekeeper.plan_chip(chip, folder / "burn.hex", "2716")), str)
    archive = imagekeeper.Archive.create(folder / "harbour", title="Harbour office")
    assert_type(archive, imagekeeper.Archive)
    archive.add_carrier("tg85-u4", "eprom", part="2716")
    assert_type(archive.add_reads("tg85-u4", chip).version, int)
    assert_type(archive.agree("tg85-u4").agreed.because, str)
    assert_type([carrier.id for carrier in archive.carriers()], list[str])
    assert_type(archive.audit().ok, bool)
    try:
        imagekeeper.fingerprint(folder / "nothing.bin")
    except imagekeeper.NotFoundError as problem:
        assert_type(problem.exit_code, int)
        assert_type(problem.what, str)
    assert_type(imagekeeper.__version__, str)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        main(Path(scratch))
