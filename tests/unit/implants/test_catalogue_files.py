"""Catalogue files: what is accepted, what is refused, and in which words."""

import pickle

import pytest

from trajplan.errors import CatalogueError
from trajplan.implants import find_screw, load_catalogue

SCREW = {
    "kind": '"HA9.0"',
    "thread": '"shallow"',
    "bone": '"cortical"',
    "thread_diameter": "9.0",
    "core_diameter": "6.0",
    "pitch": "2.0",
    "head_diameter": "14.0",
    "head_height": "7",
    "head_radius": "7.0",
    "lengths": "[20, 30]",
    "length_from": '"seat"',
    "sources": '{ default = { status = "common practice", source = "bench" } }',
}
WASHER = """
[[washer]]
id = "wide"
outer_diameter = 20
inner_diameter = 10
thickness = 2
sources = { default = { status = "published", source = "bench" } }
"""


def row(**changes):
    fields = {**SCREW, **changes}
    lines = [f"{key} = {value}" for key, value in fields.items() if value is not None]
    return "\n".join(["[[screw]]", *lines, ""])


@pytest.fixture
def load(tmp_path):
    def _load(text):
        path = tmp_path / "mine.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return load_catalogue(path)

    return _load


def test_own_catalogue_has_every_kind():
    catalogue = load_catalogue()
    shallow = ["HA1.5", "HA2.0", "HA2.7", "HA3.5", "HA4.0", "HA4.5", "HA5.0"]
    assert list(catalogue.screws) == [*shallow, "HB4.0", "HB6.5"]
    assert [washer.outer_diameter for washer in catalogue.washers.values()] == [7.0, 13.0]
    assert [wire.diameter for wire in catalogue.wires.values()] == [
        0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.0,
    ]  # fmt: skip


def test_every_value_of_the_own_catalogue_has_a_source():
    catalogue = load_catalogue()
    items = [*catalogue.screws.values(), *catalogue.washers.values(), *catalogue.wires.values()]
    for item in items:
        for field in item.__dataclass_fields__:
            if field not in ("kind", "id", "sources") and getattr(item, field) not in (None, ()):
                assert item.sources[field].source, (item, field)
                assert item.sources[field].status in (
                    "published",
                    "common practice",
                    "not verified against the standard",
                )


def test_a_hole_that_no_source_names_is_not_invented():
    catalogue = load_catalogue()
    for kind in ("HA4.0", "HA5.0"):
        assert catalogue.screws[kind].thread_hole is None
        assert "thread_hole" not in catalogue.screws[kind].sources


def test_partial_threads():
    catalogue = load_catalogue()
    assert [kind for kind, screw in catalogue.screws.items() if screw.partial] == ["HB4.0", "HB6.5"]


@pytest.mark.parametrize("name", ["HA4.5", "HA 4.5", "ha4.5", " hA 4 .5 "])
def test_spaces_and_case_do_not_count(name):
    assert find_screw(load_catalogue(), name).kind == "HA4.5"


def test_unknown_kind_offers_near_names_and_all():
    with pytest.raises(CatalogueError) as caught:
        find_screw(load_catalogue(), "HA45")
    assert '"HA4.5"' in caught.value.remedy
    assert all(kind in caught.value.remedy for kind in load_catalogue().screws)


def test_own_rows_are_added(load):
    catalogue = load(WASHER + row(washer='"wide"', gliding_hole="9", kind='"HA 9.0"'))
    screw = find_screw(catalogue, "HA9.0")
    assert (screw.kind, screw.washer, screw.gliding_hole) == ("HA9.0", "wide", 9.0)
    assert screw.lengths == (20.0, 30.0)
    assert (screw.thread_hole, screw.thread_lengths, screw.tap) == (None, (), None)
    assert screw.sources["pitch"].source == "bench"
    assert "HA4.5" in catalogue.screws


def test_a_row_of_the_same_kind_replaces_the_earlier_one_in_its_place(load):
    catalogue = load(row(kind='"ha 4.5"'))
    assert list(catalogue.screws)[5] == "ha4.5"
    assert len(catalogue.screws) == len(load_catalogue().screws)
    assert find_screw(catalogue, "HA4.5").thread_diameter == 9.0


def test_a_later_file_wins(tmp_path):
    first, second = tmp_path / "first.toml", tmp_path / "second.toml"
    first.write_text(row(pitch="1.0"))
    second.write_text(row(pitch="3.0"))
    assert load_catalogue(first, second).screws["HA9.0"].pitch == 3.0


def test_named_sources_and_a_source_for_one_field(load):
    text = '[source.bench]\nstatus = "published"\nsource = "bench"\nnote = "or 2.1"\n' + row(
        sources='{ default = "bench", pitch = { status = "not verified against the '
        'standard", source = "head" } }'
    )
    sources = load(text).screws["HA9.0"].sources
    assert sources["core_diameter"].note == "or 2.1"
    assert sources["pitch"].status == "not verified against the standard"


def test_the_older_word_for_a_standing_is_still_read(load):
    text = row(sources='{ default = { status = "from memory", source = "head" } }')
    sources = load(text).screws["HA9.0"].sources
    assert sources["pitch"].status == "not verified against the standard"


def test_byte_order_mark_and_windows_line_ends(load):
    assert "HA9.0" in load(b"\xef\xbb\xbf" + row().replace("\n", "\r\n").encode()).screws


def test_an_empty_file_adds_nothing(load):
    assert load("").screws == load_catalogue().screws


def test_a_catalogue_survives_pickling():
    catalogue = load_catalogue()
    assert pickle.loads(pickle.dumps(catalogue)) == catalogue


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"pich": "2.0"}, "pich"),
        ({"pitch": None}, "pitch"),
        ({"pitch": '"2"'}, "pitch"),
        ({"pitch": "true"}, "pitch"),
        ({"pitch": "0"}, "pitch"),
        ({"pitch": "-1.0"}, "pitch"),
        ({"pitch": "nan"}, "pitch"),
        ({"pitch": "inf"}, "pitch"),
        ({"pitch": "1" + "0" * 400}, "pitch"),
        ({"kind": '""'}, "kind"),
        ({"kind": "4"}, "kind"),
        ({"thread": '"coarse"'}, "thread"),
        ({"thread": "[1]"}, "thread"),
        ({"length_from": '"tip"'}, "length_from"),
        ({"core_diameter": "9.0"}, "core_diameter"),
        ({"core_diameter": "9.5"}, "core_diameter"),
        ({"thread_hole": "9.0"}, "thread_hole"),
        ({"shank_diameter": "9.1"}, "shank_diameter"),
        ({"head_diameter": "9.0"}, "head_diameter"),
        ({"lengths": "[]"}, "lengths"),
        ({"lengths": "20"}, "lengths"),
        ({"lengths": "[20, 20]"}, "lengths"),
        ({"lengths": "[30, 20]"}, "lengths"),
        ({"lengths": '[20, "30"]'}, "lengths"),
        ({"thread_lengths": "[16, 32]"}, "thread_lengths"),
        ({"thread_lengths": "[]"}, "thread_lengths"),
        ({"washer": '"none such"'}, "washer"),
        ({"washer": '"7.0"'}, "washer"),
        ({"washer": "7.0"}, "washer"),
        ({"sources": None}, "sources"),
        ({"sources": "{}"}, "sources"),
        ({"sources": '"bench"'}, "sources"),
    ],
)
def test_a_wrong_field_is_named(load, changes, key):
    with pytest.raises(CatalogueError) as caught:
        load(row().replace("HA9.0", "HA9.1") + row(**changes))
    error = caught.value
    assert error.file.endswith("mine.toml")
    assert error.where.startswith("screw 2")
    assert error.where.endswith(f"key {key}")
    assert error.found
    assert error.remedy


@pytest.mark.parametrize(
    ("sources", "word"),
    [
        ('{ pitch = { status = "published", source = "bench" } }', "thread"),
        ('{ default = { status = "certain", source = "bench" } }', "status"),
        ('{ default = { status = "published" } }', "source"),
        ('{ default = { status = "published", source = " " } }', "source"),
        ('{ default = { status = "published", source = "bench", page = 3 } }', "page"),
        ('{ default = "bench" }', "bench"),
        ("{ default = 3 }", "default"),
        ('{ default = { status = "published", source = "bench" }, pich = "bench" }', "pich"),
        ('{ default = { status = "published", source = "bench" }, tap = "bench" }', "tap"),
    ],
)
def test_a_wrong_source_is_named(load, sources, word):
    with pytest.raises(CatalogueError) as caught:
        load(row(sources=sources))
    assert caught.value.where.startswith("screw 1 (HA9.0)")
    assert "source" in str(caught.value)
    assert word in str(caught.value)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        (row() + row(), "stands in this file already"),
        (row() + row(kind='"ha 9.0"'), "stands in this file already"),
        (WASHER + WASHER, "stands in this file already"),
        (WASHER.replace("inner_diameter = 10", "inner_diameter = 20"), "inner_diameter"),
        (WASHER.replace('id = "wide"', ""), "key id"),
        ('[[wire]]\nkind = "W9"\ndiameter = -1\nsources = {}', "diameter"),
        ('[[wire]]\nkind = "W9"\ndiameter = 1\n', "sources"),
        ("[[plate]]\nkind = 1\n", "plate"),
        ("screw = 3\n", "[[screw]]"),
        ("screw = [3]\n", "[[screw]]"),
        ("source = 3\n", "[source.NAME]"),
        ('[source.a]\nstatus = "published"\n', "source"),
        ('[source]\na = "b"\n', "no source is named"),
        ("[[screw]\n", "line 1"),
        ("a = 1\na = 2\n", "line 2"),
        ("a = " + "[" * 5000, "nested"),
        ("a = " + "1" * 5000, "not TOML"),
        (b"a = '\xff'", "UTF-8"),
    ],
)
def test_a_wrong_file_is_refused(load, text, word):
    with pytest.raises(CatalogueError) as caught:
        load(text)
    assert caught.value.file.endswith("mine.toml")
    assert word in str(caught.value)


def test_a_washer_that_is_replaced_must_still_fit(load):
    with pytest.raises(CatalogueError, match=r"HB6\.5"):
        load(WASHER.replace('"wide"', '"13.0"').replace("= 10", "= 5"))


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(CatalogueError, match="no such file"):
        load_catalogue(tmp_path / "none.toml")
    with pytest.raises(CatalogueError, match="folder"):
        load_catalogue(tmp_path)
