"""gzip and zip around images."""

from __future__ import annotations

import gzip
import io
import random
import time
import tracemalloc
import warnings
import zipfile
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import budget, containers
from imagekeeper.containers import wrapped
from imagekeeper.errors import ImagekeeperError, InputError, NotFoundError
from tests.refusals import refuses

IMAGE = bytes(range(256)) * 8
HEX = b":0300300002337A1E\n:00000001FF\n"


def zipped(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as archive:
        for name, data in members.items():
            archive.writestr(zipfile.ZipInfo(name), data, method)
    return out.getvalue()


def test_gzip_and_zip_are_unwrapped() -> None:
    for data, wrapper in ((gzip.compress(IMAGE), "gzip"), (zipped({"u4.bin": IMAGE}), "zip")):
        image = containers.read(data)
        assert image.tobytes() == IMAGE
        assert (image.container, image.wrapped_in) == ("raw", wrapper)


def test_wrappers_in_wrappers_and_text_inside() -> None:
    image = containers.read(zipped({"u4.hex.gz": gzip.compress(HEX)}))
    assert (image.container, image.wrapped_in, image.tobytes()) == ("intel-hex", "zip+gzip", b"\x02\x33\x7a")


def test_wrappers_too_deep_are_refused() -> None:
    data = IMAGE
    for _ in range(wrapped.MAX_DEPTH + 1):
        data = gzip.compress(data)
    with pytest.raises(InputError) as caught:
        containers.read(data)
    assert caught.value.code == "wrapper-nesting"
    assert containers.read(data, kind="raw").tobytes() == data


def test_gzip_members_follow_one_another_and_padding_is_allowed() -> None:
    """RFC 1952, section 2.2: a gzip file is a series of members."""
    data = gzip.compress(IMAGE[:700]) + gzip.compress(IMAGE[700:]) + bytes(512)
    assert containers.read(data).tobytes() == IMAGE


@pytest.mark.parametrize("cut", [5, 12, 40, -9, -1])
def test_a_cut_gzip_file_says_how_far_it_goes(cut: int) -> None:
    data = gzip.compress(IMAGE)[:cut]
    with pytest.raises(InputError) as caught:
        containers.read(data)
    assert caught.value.code == "wrapper-damaged"


def test_what_could_be_unpacked_is_kept_on_request() -> None:
    noise = random.Random(85).randbytes(200_000)
    packed = bytearray(gzip.compress(noise))
    kept = containers.read(bytes(packed[: len(packed) // 2]), keep_doubtful=True)
    assert noise.startswith(kept.tobytes())
    assert 0.3 * len(noise) < kept.size_bytes < len(noise)
    assert kept.doubts[0].code == "wrapper-damaged"
    packed[-6] ^= 1   # in the trailer's check value: all data are there
    assert containers.read(bytes(packed), keep_doubtful=True).tobytes() == noise


def test_something_after_a_gzip_file_is_an_error() -> None:
    with refuses(InputError, "wrapper-damaged", "the gzip file is damaged or cut short") as caught:
        containers.read(gzip.compress(IMAGE) + b"more")
    assert "4 bytes after the end" in caught.value.why


def test_a_bomb_is_stopped_at_the_limit() -> None:
    bomb = zlib.compressobj(9, zlib.DEFLATED, 31)
    block = bytes(1 << 20)
    data = b"".join(bomb.compress(block) for _ in range(budget.UNPACKED + 2)) + bomb.flush()
    assert len(data) < 1 << 20
    with pytest.raises(InputError) as caught:
        containers.read(data)
    assert caught.value.code == "too-large"
    with pytest.raises(InputError) as caught:
        containers.read(zipped({"u4.bin": bytes(budget.UNPACKED * budget.LEAST_BYTES + 1)}))
    assert caught.value.code == "too-large"
    with budget.spending(budget.Budget(2 * budget.LEAST_BYTES)):   # a larger file may hold more
        assert containers.read(data).size_bytes == (budget.UNPACKED + 2) * budget.LEAST_BYTES


def test_wrappers_in_wrappers_share_one_limit() -> None:
    half = gzip.compress(bytes(20 << 20))
    assert containers.read(zipped({"u4.bin.gz": half})).size_bytes == 20 << 20
    padded = gzip.compress(gzip.compress(bytes(20 << 20)) + bytes(20 << 20))   # zeros may follow a member
    with pytest.raises(InputError) as caught:
        containers.read(padded)
    assert caught.value.code == "too-large"


def test_many_members_take_time_that_grows_with_them_alone() -> None:
    """All that follows a member was once copied for each: a megabyte of them took half a minute."""
    member = gzip.compress(b"AB", mtime=0)
    begin = time.process_time()
    assert containers.read(member * 50_000).size_bytes == 100_000
    assert time.process_time() - begin < 10


def test_text_in_a_wrapper_has_its_limit_too() -> None:
    text = (b"00 " * 16 + b"\n") * (budget.TEXT * budget.LEAST_BYTES // 49 + 1)
    with pytest.raises(InputError) as caught:
        containers.read(gzip.compress(text), kind="hex-text")
    assert (caught.value.code, "of text" in caught.value.why) == ("too-large", True)
    assert containers.read(gzip.compress(text), kind="raw").size_bytes < 1 << 20


def test_time_that_is_up_ends_the_decoding() -> None:
    ticks = iter(range(10**9))
    text = b"".join(b":0100%02X0055%02X\n" % (i, -(0x56 + i) & 255) for i in range(200)) * 3000
    hurried = budget.Budget(len(text), clock=lambda: 100.0 * next(ticks))
    with budget.spending(hurried), pytest.raises(InputError) as caught:
        containers.read(text, kind="intel-hex", keep_doubtful=True)
    assert caught.value.code == "too-much-work"


@pytest.mark.parametrize(("method", "name"), [(zipfile.ZIP_BZIP2, "bzip2"), (zipfile.ZIP_LZMA, "LZMA")])
def test_methods_that_no_limit_can_stop_are_refused(method: int, name: str) -> None:
    """A few bytes become gigabytes in one step of these. Numbers: PKWARE, APPNOTE.TXT 6.3.10, section 4.4.5."""
    data = zipped({"u4.bin": bytes(32 << 20)}, method)
    assert len(data) < 10_000
    tracemalloc.start()
    with pytest.raises(InputError) as caught:
        containers.read(data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (caught.value.code, caught.value.where.member) == ("wrapper-damaged", "u4.bin")
    assert caught.value.why.startswith(f"it is packed by {name}; only stored and deflated members can be unpacked")
    assert peak < 1 << 20   # nothing was unpacked


def test_a_method_of_no_name_is_refused_by_its_number() -> None:
    data = bytearray(zipped({"u4.bin": IMAGE}))
    local, central = data.find(b"PK\x03\x04"), data.find(b"PK\x01\x02")   # APPNOTE.TXT, sections 4.3.7 and 4.3.12
    data[local + 8 : local + 10] = data[central + 10 : central + 12] = (97).to_bytes(2, "little")
    with pytest.raises(InputError) as caught:
        containers.read(bytes(data))
    assert (caught.value.code, "method 97" in caught.value.why) == ("wrapper-damaged", True)


def test_a_zip_without_members() -> None:
    with pytest.raises(NotFoundError) as caught:
        containers.read(zipped({}))
    assert caught.value.code == "member-missing"


def test_a_zip_with_several_members_asks_for_one() -> None:
    data = zipped({"u4.bin": IMAGE, "u5.bin": IMAGE[::-1]})
    with pytest.raises(InputError) as caught:
        containers.read(data)
    assert caught.value.code == "member-choice"
    assert "u4.bin, u5.bin" in caught.value.why
    assert containers.read(data, member="u5.bin").tobytes() == IMAGE[::-1]
    with pytest.raises(NotFoundError) as missing:
        containers.read(data, member="u6.bin")
    assert missing.value.code == "member-missing"


def test_two_members_of_one_name_are_not_guessed_between() -> None:
    out = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(out, "w") as archive:
        warnings.simplefilter("ignore")
        archive.writestr("u4.bin", b"one")
        archive.writestr("u4.bin", b"two")
    with pytest.raises(InputError) as caught:
        containers.read(out.getvalue(), member="u4.bin")
    assert caught.value.code == "member-choice"


@pytest.mark.parametrize("name", ["/etc/passwd", "../../u4.bin", "C:\\u4.bin", "a\nb.bin", "u4\x1b[2J.bin"])
def test_a_members_name_is_never_a_path(name: str) -> None:
    """It is shown, made printable, and nothing is ever written under it."""
    image = containers.read(zipped({name: IMAGE}))
    assert image.tobytes() == IMAGE


def test_an_empty_member_is_an_error() -> None:
    for data in (zipped({"u4.bin": b""}), gzip.compress(b"")):
        with pytest.raises(InputError) as caught:
            containers.read(data)
        assert caught.value.code == "empty"


def test_an_encrypted_member_is_refused() -> None:
    data = bytearray(zipped({"u4.bin": IMAGE}))
    for magic, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):   # PKWARE APPNOTE 4.3.7, 4.3.12: bit 0 of the flags
        data[data.index(magic) + at] |= 1
    with refuses(InputError, "wrapper-damaged", "the zip member is encrypted") as caught:
        containers.read(bytes(data))
    assert "password" in caught.value.why


@given(data=st.data())
def test_any_damage_gives_an_image_or_one_of_our_errors(data: st.DataObject) -> None:
    wholes = [gzip.compress(IMAGE), zipped({"u4.bin": IMAGE}), zipped({"a": HEX}, zipfile.ZIP_STORED)]
    packed = bytearray(data.draw(st.sampled_from(wholes)))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(packed) - 1))
        packed[at] = data.draw(st.integers(0, 255))
    packed = packed[: data.draw(st.integers(1, len(packed)))]
    try:
        image = containers.read(bytes(packed), keep_doubtful=data.draw(st.booleans()))
    except ImagekeeperError as problem:
        assert problem.why
        assert problem.hint
    else:
        assert image.size_bytes > 0
