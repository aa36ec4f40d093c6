"""Whether an archive is whole: what became of each file is named."""

import io
import zipfile

import pytest

from headland.record import bag, packed_end

from .made import TABLE, again, found, packed, payload


@pytest.mark.parametrize(
    "change, wanted",
    [
        (
            lambda f: f | {"x/data/results/surfaces.csv": TABLE.replace(b"0.25", b"0.26")},
            "data/results/surfaces.csv: changed",
        ),
        (lambda f: f | {"x/data/results/more.csv": b"1"}, "data/results/more.csv: added"),
        (
            lambda f: {k: v for k, v in f.items() if k != "x/data/results/surfaces.csv"},
            "data/results/surfaces.csv: missing",
        ),
        (
            lambda f: {k.replace("surfaces", "surfacez"): v for k, v in f.items()},
            "data/results/surfaces.csv: renamed to data/results/surfacez.csv",
        ),
        (lambda f: f | {"x/README.txt": b"other"}, "README.txt: changed"),
    ],
)
def test_what_became_of_a_file_is_named(change, wanted):
    lines = found(again(packed(), change))
    assert [line for line in lines if line.startswith(wanted)]
    assert [": added" in line for line in lines].count(True) == (": added" in wanted)


def test_an_archive_that_another_program_packed_anew_is_whole():
    content = again(packed())
    assert found(content) == [] and bag.opened(io.BytesIO(content)).packed_anew


@pytest.mark.parametrize(
    "name, content",
    [
        ("manifest-md5.txt", b"0" * 32 + b"  data/results/surfaces.csv\n"),
        ("manifest-sha512.txt", b""),
        ("tagmanifest-md5.txt", b""),
        ("fetch.txt", b"http://127.0.0.1/evil 1 data/evil\n"),
        ("LICENSE", b"mine"),
    ],
)
def test_a_file_beside_data_that_other_programs_could_follow_is_named(name, content):
    """Its own checksum is right: it is listed like the others."""
    (line,) = found(packed(**{name: content}))
    assert line.startswith(name)


@pytest.mark.parametrize("name", ["x/data/more/", "x/evil/", "x/data/results/"])
def test_an_added_folder_is_named(name):
    import zipfile

    stream = io.BytesIO(packed())
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr(zipfile.ZipInfo(name), b"")
    assert any("an added folder" in line for line in found(stream.getvalue()))


def test_an_added_folder_is_named_where_another_program_packed_the_zip():
    with_folders = again(packed(), lambda files: {"x/data/": b"", "x/data/evil/": b""} | files)
    assert found(with_folders) == ["x/data/evil/: an added folder; it holds no file"]


@pytest.mark.parametrize(
    "name, text",
    [
        ("ro-crate-metadata.json", b'{"@graph": null}'),
        ("ro-crate-metadata.json", b'{"@graph": [null]}'),
        ("ro-crate-metadata.json", b"{}"),
        ("settings.json", b'{"inputs": {}}'),
        ("settings.json", b'{"inputs": "a"}'),
        ("datapackage.json", b'{"resources": 1}'),
        ("versions.json", b"[]"),
    ],
)
def test_a_description_without_its_list_is_a_plain_line(name, text):
    (line,) = found(packed(payload(**{name: text})))
    assert line.startswith(f"data/{name}") and line.isprintable()


def test_a_wrong_size_in_the_bag_s_own_description_is_named():
    def change(files):
        import hashlib

        info = files["x/bag-info.txt"].replace(b"Payload-Oxum: ", b"Payload-Oxum: 9")
        old, new = (hashlib.sha256(text).hexdigest().encode() for text in (files["x/bag-info.txt"], info))
        tags = files["x/tagmanifest-sha256.txt"].replace(old, new)
        return files | {"x/bag-info.txt": info, "x/tagmanifest-sha256.txt": tags}

    (line,) = found(again(packed(), change))
    assert line.startswith("bag-info.txt: it should say Payload-Oxum")


def test_a_description_of_many_values_takes_bounded_memory():
    import tracemalloc

    content = packed(payload(**{"settings.json": b'{"inputs": [' + b"[]," * 4_000_000 + b"[]]}"}))
    tracemalloc.start()
    lines = found(content)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert any("larger than" in line for line in lines) and peak < 100e6


def test_a_description_of_more_than_8_million_bytes_is_refused():
    for size, refused in ((7_999_000, False), (8_000_100, True)):
        text = b'{"inputs": []}' + b" " * (size - 14)
        assert (
            any("settings.json" in line for line in found(packed(payload(**{"settings.json": text}))))
            == refused
        )


def test_a_checksum_in_the_zip_that_does_not_fit_is_damage():
    content = bytearray(packed())
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        info = archive.getinfo("x/data/results/surfaces.csv")
        name = info.filename.encode()
    local, central = info.header_offset, content.rindex(name) - 46
    content[local + 14] ^= 1
    content[central + 16] ^= 1
    assert "data/results/surfaces.csv: it is damaged" in found(bytes(content))


def test_an_archive_written_to_a_stream_that_can_not_go_back_is_whole():
    """Sizes and checksum then stand behind each content."""

    class Onward(io.BytesIO):
        def seekable(self):
            return False

        def seek(self, *_):
            raise io.UnsupportedOperation

        def tell(self):
            raise io.UnsupportedOperation

    with zipfile.ZipFile(io.BytesIO(packed())) as archive:
        files = {item.filename: archive.read(item) for item in archive.infolist()}
    stream = Onward()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    assert stream.getvalue()[6] & 8 and found(stream.getvalue()) == []


def test_packed_bytes_that_stop_short_are_not_waited_for():
    info = zipfile.ZipInfo("x")
    info.compress_type, info.compress_size, info.file_size = zipfile.ZIP_DEFLATED, 100, 1000
    assert not packed_end.ends_with(io.BytesIO(b"\x00"), info, 0)
    assert not packed_end.ends_with(io.BytesIO(b""), info, 0)
