"""Kept stages: taken where nothing changed, never where anything is damaged, foreign or forged."""

import json
import os
import pickle
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import examples
from trace2pop import cache as caching
from trace2pop import pipeline, records
from trace2pop.cache import FOLDER, STAGES, Cache
from trace2pop.errors import SupportError
from trace2pop.model.artwork import Artwork, Motif
from trace2pop.model.card import CardPlan, CutMotif, PlacedMotif
from trace2pop.model.settings import Settings, SupportSettings
from trace2pop.records import packed, record, restored, unpacked
from trace2pop.stages.supports import SagError


def same(one: object, two: object) -> bool:
    """Whether two values are alike to the last bit."""
    return caching.Cache(Path("x"))._digest(one) == caching.Cache(Path("x"))._digest(two)


class Counted:
    """A stage that counts how often it runs, under a cache that is opened anew each time."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.runs = folder, 0

    def __call__(self, settings: Settings | None = None) -> Artwork:
        cache = Cache(self.folder)
        value = cache.stage("capture", Artwork, ("picture", settings or Settings()), self.make)
        cache.keep(self.folder)
        assert cache.used == cache.was_taken(value)
        return value

    def make(self) -> Artwork:
        self.runs += 1
        return examples.motif().artwork

    @property
    def file(self) -> Path:
        return self.folder / FOLDER / "capture"


@pytest.fixture
def stage(tmp_path: Path) -> Counted:
    return Counted(tmp_path)


def test_a_stage_runs_once_while_nothing_changes(stage: Counted) -> None:
    first, again = stage(), stage()
    assert stage.runs == 1
    assert same(first, again)
    assert again.rgb.flags.writeable
    content = stage.file.read_bytes()
    stage()
    assert stage.file.read_bytes() == content


def test_a_changed_input_runs_it_again(stage: Counted) -> None:
    from trace2pop.model.settings import CardSettings

    stage()
    stage(Settings(card=CardSettings(rise=21.0)))
    assert stage.runs == 2
    stage(Settings(card=CardSettings(rise=21.0)))
    assert stage.runs == 2


def test_another_version_of_code_or_library_runs_it_again(
    stage: Counted, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage()
    monkeypatch.setattr(caching, "fingerprint", lambda: "another")
    stage()
    assert stage.runs == 2


def test_the_fingerprint_follows_code_and_libraries(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = caching.fingerprint.__wrapped__()
    assert plain == caching.fingerprint.__wrapped__()
    monkeypatch.setattr(caching, "_version", lambda name: f"{name} 999")
    assert caching.fingerprint.__wrapped__() != plain
    assert any(name.startswith("numpy 999") for name in caching._libraries())


def flipped(content: bytes, at: float) -> bytes:
    place = int(at * (len(content) - 1))
    return content[:place] + bytes([content[place] ^ 1]) + content[place + 1 :]


@dataclass
class Runs:
    """Creates a file when it is unpickled: proof that a cache was run."""

    path: Path

    def __reduce__(self) -> tuple[Callable[..., object], tuple[object, ...]]:
        return os.mkdir, (str(self.path),)


DAMAGE: dict[str, Callable[[bytes], bytes]] = {
    "empty": lambda content: b"",
    "cut short": lambda content: content[: len(content) // 2],
    "one byte short": lambda content: content[:-1],
    "longer": lambda content: content + b"\0",
    "not ours": lambda content: b"SQLite format 3\0" * 100,
    **{
        f"bit flipped at {share:.0%}": (lambda content, share=share: flipped(content, share))
        for share in (0.0, 1e-4, 2e-4, 1e-3, 0.01, 0.5, 1.0)
    },
}


@pytest.mark.parametrize("kind", DAMAGE)
def test_a_damaged_file_counts_as_not_there_and_is_mended(stage: Counted, kind: str) -> None:
    first = stage()
    whole = stage.file.read_bytes()
    stage.file.write_bytes(DAMAGE[kind](whole))
    assert same(stage(), first)
    assert stage.runs == 2
    assert stage.file.read_bytes() == whole


def resealed(stage: Counted, body: bytes) -> None:
    """Put a forged body into the kept file, under the right key and with a right checksum."""
    head = len(caching._MAGIC)
    key = stage.file.read_bytes()[head : head + 64].decode()
    stage.file.write_bytes(caching._sealed(key, body))


def forged(tree: object, arrays: list[object], blobs: bytes = b"") -> bytes:
    head = json.dumps({"tree": tree, "arrays": arrays}).encode()
    return len(head).to_bytes(8, "big") + head + blobs


def forgeries(stage: Counted) -> dict[str, bytes]:
    body = packed(record(examples.motif().artwork))
    size = int.from_bytes(body[:8], "big")
    parts = json.loads(body[8 : 8 + size])
    tree, arrays, blobs = parts["tree"], parts["arrays"], body[8 + size :]
    huge = zlib.compress(b"\0" * 10_000_000, 9)
    return {
        "pickle": pickle.dumps(Runs(stage.folder / "ran")),
        "object array": forged(tree, [["|O", [1], 8], arrays[1]], b"\0" * 8 + blobs),
        "void array": forged(tree, [["|V8", [1], 8], arrays[1]], b"\0" * 8 + blobs),
        "wrong shape": forged(tree, [[arrays[0][0], [1, 1, 3], arrays[0][2]], arrays[1]], blobs),
        "negative shape": forged(tree, [["|u1", [-1, -1, 3], 3], arrays[1]], blobs),
        "endless shape": forged(tree, [["|u1", [1 << 62, 3], 9], arrays[1]], blobs),
        "bomb": forged(tree, [["|u1", [70_000], len(huge)], arrays[1]], huge + blobs),
        "wrong dtype": forged(tree, [["<f8", [1], 8], arrays[1]], b"\0" * 8 + blobs),
        "wrong type": forged([7, *tree[1:]], arrays, blobs),
        "too few": forged(tree[:-1], arrays, blobs),
        "too deep": forged(json.loads("[" * 400 + "]" * 400), arrays, blobs),
        "wrong pointer": forged([tree[0], {"array": 99}, *tree[2:]], arrays, blobs),
        "pointer to text": forged([tree[0], {"array": "0"}, *tree[2:]], arrays, blobs),
        "unknown pointer": forged([tree[0], {"known": "9.rgb"}, *tree[2:]], arrays, blobs),
        "other settings": forged([tree[0], {"known": "1.card"}, *tree[2:]], arrays, blobs),
        "no tree": json.dumps([1, 2]).encode(),
    }


KINDS = ["pickle", "object array", "void array", "wrong shape", "negative shape", "endless shape"]
KINDS += ["bomb", "wrong dtype", "wrong type", "too few", "too deep", "wrong pointer"]
KINDS += ["pointer to text", "unknown pointer", "other settings", "no tree"]


@pytest.mark.parametrize("kind", KINDS)
def test_a_forged_file_runs_nothing_and_counts_as_not_there(stage: Counted, kind: str) -> None:
    first = stage()
    resealed(stage, forgeries(stage)[kind])
    assert same(stage(), first)
    assert stage.runs == 2
    assert not (stage.folder / "ran").exists()


def test_the_forger_of_these_tests_can_write_what_is_taken(stage: Counted) -> None:
    """Or the refusals above would prove nothing."""
    stage()
    resealed(stage, packed(record(examples.motif().artwork)))
    stage()
    assert stage.runs == 1


@pytest.fixture
def large(stage: Counted, monkeypatch: pytest.MonkeyPatch) -> Counted:
    """Keep the picture packed until it is looked at, however small it is."""
    monkeypatch.setattr(records, "_LATER_FROM", 1)
    return stage


def test_a_large_picture_is_unpacked_when_it_is_looked_at(large: Counted) -> None:
    first, again = large(), large()
    assert large.runs == 1
    assert "rgb" not in vars(again)
    assert again.size_px == first.size_px
    assert isinstance(again, Artwork)
    assert same(again, first)
    assert "rgb" not in vars(again)
    np.testing.assert_array_equal(again.rgb, first.rgb)
    assert again.rgb is again.rgb
    assert again.rgb.flags.writeable
    assert same(again, first)
    assert not hasattr(again, "rgba")
    assert packed(record(again)) == packed(record(large()))


def test_a_picture_of_other_bytes_than_were_kept_is_refused(large: Counted) -> None:
    large()
    body = packed(record(examples.motif().artwork))
    size = int.from_bytes(body[:8], "big")
    parts = json.loads(body[8 : 8 + size])
    parts["arrays"][0][3] = "0" * 64
    resealed(large, forged(parts["tree"], parts["arrays"], body[8 + size :]))
    with pytest.raises(ValueError, match="other bytes"):
        _ = large().rgb  # make() has all made anew then


def test_links_and_pipes_are_left_alone(stage: Counted, tmp_path: Path) -> None:
    stage()
    outside = tmp_path / "outside"
    outside.write_bytes(stage.file.read_bytes())
    stage.file.unlink()
    stage.file.symlink_to(outside)
    stage()
    assert stage.runs == 2
    assert not stage.file.is_symlink()
    stage.file.unlink()
    os.mkfifo(stage.file)
    stage()
    assert stage.runs == 3
    assert stage.file.is_file()
    place = stage.file.parent
    away = tmp_path / "away"
    place.rename(away)
    before = {path.name: path.read_bytes() for path in away.iterdir()}
    place.symlink_to(away)
    stage(Settings())
    assert {path.name: path.read_bytes() for path in away.iterdir()} == before


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_place_that_cannot_be_written_costs_the_cache_only(stage: Counted) -> None:
    stage.folder.chmod(0o500)
    stage()
    stage()
    assert stage.runs == 2


def test_no_space_costs_the_cache_only(stage: Counted, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: Path, content: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    stage()
    assert [*stage.file.parent.iterdir()] == []


def test_what_is_of_no_more_use_goes_and_the_makers_files_stay(stage: Counted) -> None:
    stage()
    (stage.file.parent / "notes.txt").write_text("mine")
    old = stage.file.with_name("fit")
    old.write_bytes(b"from a run that ended otherwise")
    stage()
    assert sorted(path.name for path in stage.file.parent.iterdir()) == ["capture", "notes.txt"]
    Cache(None).keep(stage.folder)
    assert [path.name for path in stage.file.parent.iterdir()] == ["notes.txt"]


def test_a_stage_tried_several_times_is_kept_each_time(tmp_path: Path) -> None:
    runs = []

    def tried(size: int) -> Artwork:
        runs.append(size)
        return examples.motif(width=float(size)).artwork

    for sizes in ((180, 90, 120), (180, 90, 120), (180, 120)):
        cache = Cache(tmp_path)
        for size in sizes:
            found = cache.stage("fit", Artwork, (size,), lambda size=size: tried(size))
            assert same(found, examples.motif(width=float(size)).artwork)
        cache.keep(tmp_path)
    assert runs == [180, 90, 120, 120]
    assert sorted(path.name for path in (tmp_path / FOLDER).iterdir()) == ["fit", "fit-2"]


def test_a_large_stage_is_not_kept(stage: Counted, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(caching, "MOST_BYTES", 1000)
    stage()
    stage()
    assert stage.runs == 2
    assert not stage.file.exists()


def test_the_values_of_all_stages_come_back_to_the_last_bit() -> None:
    plan = examples.plan()
    cut, placed = plan.cut, plan.cut.placed
    motif, artwork = placed.motif, placed.motif.artwork
    chain = ((Artwork, artwork, ()), (Motif, motif, (artwork,)), (PlacedMotif, placed, (motif,)))
    chain += ((CutMotif, cut, (placed,)), (CardPlan, plan, (cut, STAGES)))
    for kind, value, given_ in chain:
        parts = record(value, given_)
        again = restored(unpacked(packed(parts)), kind, given_)
        assert same(again, value)
        assert kind is Artwork or parts.size < 10_000, "what is known already isn't written again"
    assert again.cut is cut


numbers = st.floats(width=64) | st.integers(-(2**53), 2**53).map(float)


@given(st.lists(numbers, max_size=6), st.text(max_size=8))
def test_numbers_keep_their_last_bit(values: list[float], name: str) -> None:
    from trace2pop.model.finding import Finding

    for value in values:
        finding = Finding(name, "note", name, value, None, name)
        again = restored(unpacked(packed(record(finding))), Finding)
        assert np.float64(again.measured).tobytes() == np.float64(value).tobytes() or value != value
        assert (again.rule, again.limit, again.advice) == (name, None, name)


trees = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=9)
        | st.dictionaries(st.sampled_from(["array", "known", "x"]), inner, max_size=2)
    ),
    max_leaves=12,
)


@given(trees, st.sampled_from([Artwork, Motif, CutMotif, CardPlan]))
def test_any_other_tree_is_refused(tree: object, kind: type) -> None:
    body = forged(tree, [])
    with pytest.raises(ValueError):
        restored(unpacked(body), kind)


@given(st.binary(max_size=200))
def test_any_other_bytes_are_refused(content: bytes) -> None:
    with pytest.raises(ValueError):
        unpacked(content)


def test_that_no_beams_hold_is_kept_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """To find out that there are none takes as long as to find them."""
    runs = []
    refusals = [
        SagError("it sags 3 mm", "make it smaller", 3.0, anywhere=True),
        SupportError("no room", "make some"),
    ]

    def refused(*_: object) -> CardPlan:
        runs.append(1)
        raise refusals[len(runs) - 1]

    monkeypatch.setattr(pipeline, "supports", refused)
    for load, wanted in ((10.0, refusals[0]), (20.0, refusals[1])):
        settings = Settings(supports=SupportSettings(handling_load=load))
        for _ in range(2):
            cache = Cache(tmp_path)
            with pytest.raises(SupportError) as caught:
                pipeline.plan_of(examples.placed(), settings, cache)
            cache.keep(tmp_path)
            assert type(caught.value) is type(wanted)
            assert (str(caught.value), caught.value.advice) == (str(wanted), wanted.advice)
            for key in ("excess", "anywhere"):
                assert getattr(caught.value, key, None) == getattr(wanted, key, None)
    assert len(runs) == 2
