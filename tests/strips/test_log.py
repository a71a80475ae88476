"""The log of strips: added to whole, never rewritten, read whatever happened to it.

What is expected follows from the rules of the file, worked out here from its bytes; digests are checked with
hashlib's SHA-256 (FIPS 180-4) over what the line says.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatgen.core.errors import InputRefused
from flatgen.strips import log as lock
from flatgen.strips import log as logs
from flatgen.strips import log_lines
from flatgen.strips import words as strip_words
from flatgen.strips.log import append, read_log, withdraw
from flatgen.strips.log_lines import Withdrawal, format_line, reading_digest
from tests.paper.strip_sheets.strip_samples import angle_strip, sample
from tests.strips.learning.learners import Learners

STRIPS = [sample(n) for n in range(8)]


def both(count: int) -> list[object]:
    """Seeds: a tenth in the normal run, all of them in the thorough one."""
    seeds: list[object] = list(range(count // 10))
    return seeds + [pytest.param(s, marks=pytest.mark.thorough) for s in range(count // 10, count)]


@pytest.fixture(name="path")
def _path(tmp_path: Path) -> Path:
    return tmp_path / "strips.jsonl"


def test_strips_come_back_as_they_were_learned(path: Path) -> None:
    assert read_log(path) == logs.Log()
    made = append(path, STRIPS)
    assert ([e.reading for e in made.added], made.known, made.findings) == (STRIPS, (), ())
    found = read_log(path)
    assert (found.readings, found.damaged, found.withdrawn) == (tuple(STRIPS), (), ())
    assert [e.line for e in found.entries] == list(range(1, 9))
    assert path.read_bytes().endswith(b"\n")


def test_learning_twice_adds_nothing(path: Path) -> None:
    append(path, STRIPS[:5])
    before = path.read_bytes()
    again = append(path, STRIPS[:5])
    assert (again.added, [e.reading for e in again.known]) == ((), STRIPS[:5])
    assert path.read_bytes() == before
    mixed = append(path, [STRIPS[6], STRIPS[2], STRIPS[6]])
    assert [e.reading for e in mixed.added] == [STRIPS[6]]
    assert [e.reading for e in mixed.known] == [STRIPS[2], STRIPS[6]]
    assert path.read_bytes().startswith(before)
    assert len(read_log(path).entries) == 6


@given(st.integers(0, 10_000))
def test_any_strip_can_be_written_and_read(seed: int) -> None:
    reading = sample(seed)
    line = format_line(reading)
    assert line.count(b"\n") == 1
    assert log_lines.read_line(line[:-1]) == (reading_digest(reading), reading)


def test_the_digest_is_that_of_what_the_line_says() -> None:
    """SHA-256 of the kind and the strip without its note: keys sorted, no blanks, ASCII; sixteen digits."""
    said = json.loads(format_line(replace(STRIPS[3], note="anything")))
    strip = {k: v for k, v in said["strip"].items() if k != "note"}
    text = json.dumps(["strip", strip], sort_keys=True, separators=(",", ":"))
    assert said["digest"] == hashlib.sha256(text.encode()).hexdigest()[:16]


def test_a_word_in_a_note_makes_no_other_strip_but_a_number_does(path: Path) -> None:
    append(path, [angle_strip()])
    noted = append(path, [angle_strip(note="the clamp slipped?")])
    assert (noted.added, len(noted.known), noted.findings) == ((), 1, ())
    other = append(path, [angle_strip(thickness=1.02)])
    assert len(other.added) == 1
    assert other.findings[0].severity == "caution"
    assert "in line 1" in other.findings[0].text
    assert other.findings[0].remedy == strip_words.WITHDRAW_ONE
    assert append(path, [angle_strip("angle 2", thickness=1.02)]).findings == ()


def test_an_entry_is_withdrawn_by_a_later_line(path: Path) -> None:
    append(path, STRIPS)
    before = path.read_bytes()
    digest = reading_digest(STRIPS[4])
    assert withdraw(path, digest[:7].upper(), "measured\nwith a worn protractor").reading == STRIPS[4]
    assert path.read_bytes().startswith(before)
    found = read_log(path)
    assert found.readings == (*STRIPS[:4], *STRIPS[5:])
    assert [(w.entry.reading, w.why, w.line) for w in found.withdrawn] == [
        (STRIPS[4], "measured with a worn protractor", 9)
    ]
    after = path.read_bytes()
    withdraw(path, digest, "again")
    assert path.read_bytes() == after
    again = append(path, [STRIPS[4]])
    assert again.added == ()
    assert (again.findings[0].severity, "worn" in again.findings[0].text) == ("note", True)
    assert path.read_bytes() == after


def test_two_versions_of_a_log_can_be_brought_together(path: Path) -> None:
    """Line by line, in whatever order: strips count once, a withdrawal counts wherever it stands."""
    lines = [format_line(s) for s in STRIPS[:3]]
    gone = format_line(Withdrawal(reading_digest(STRIPS[1]), "worn"))
    path.write_bytes(gone + lines[0] + lines[1] + lines[0] + lines[2] + gone)
    found = read_log(path)
    assert (found.readings, found.damaged, len(found.withdrawn)) == ((STRIPS[0], STRIPS[2]), (), 1)
    path.write_bytes(b"<<<<<<< ours\n" + lines[0] + b"=======\n" + lines[2] + b">>>>>>> theirs\n")
    found = read_log(path)
    assert found.readings == (STRIPS[0], STRIPS[2])
    assert [f.where.rpartition(":")[2] for f in found.damaged] == ["1", "3", "5"]


@pytest.mark.parametrize(
    ("digest", "told"), [("0" * 16, "no strip"), ("", "too short"), ("ab", "too short"), ("f" * 17, "too short")]
)
def test_a_withdrawal_names_one_strip(path: Path, digest: str, told: str) -> None:
    append(path, STRIPS)
    before = path.read_bytes()
    with pytest.raises(InputRefused, match=told) as refused:
        withdraw(path, digest, "")
    assert refused.value.faults[0].remedy == strip_words.SHOW
    assert path.read_bytes() == before


def test_a_prefix_of_two_strips_names_both(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    append(path, STRIPS[:2])
    digests = [e.digest for e in read_log(path).entries]
    monkeypatch.setattr(logs, "LEAST_DIGITS", 0)
    with pytest.raises(InputRefused) as refused:
        withdraw(path, "", "")
    assert all(d in refused.value.faults[0].text for d in digests)


def _changed(line: bytes, old: bytes, new: bytes) -> bytes:
    assert old in line
    return line.replace(old, new, 1)


_LINE = format_line(angle_strip())[:-1]
DAMAGE = {
    "cut short": _LINE[:-20],
    "another number": _changed(_LINE, b'"nominal": 1.0', b'"nominal": 1.1'),
    "another digest": b'{"digest": "0000000000000000"' + _LINE[28:],
    "no JSON": b"angle 1, 30.2, 40.1",
    "a list": b"[1, 2]",
    "a number": b"17",
    "nothing": b"null",
    "no strip": b'{"digest": "0123456789abcdef"}',
    "deep": b"[" * 100_000,
    "a long number": b'{"digest": "0", "strip": ' + b"9" * 5000 + b"}",
    "not UTF-8": b'{"digest": "\xff\xfe"}',
    "NaN": _changed(_LINE, b'"nominal": 1.0', b'"nominal": NaN'),
    "too long": b" " * 300_000 + b"x",
    "zeros": b"\0" * 40,
}


@pytest.mark.parametrize("kind", DAMAGE)
@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_damaged_line_is_told_by_number_and_the_rest_is_used(path: Path, kind: str, place: int) -> None:
    lines = [format_line(s)[:-1] for s in STRIPS[:2]]
    lines.insert(place, DAMAGE[kind])
    path.write_bytes(b"\n".join(lines) + b"\n")
    found = read_log(path)
    assert found.readings == tuple(STRIPS[:2])
    assert [f.where for f in found.damaged] == [f"{path}:{place + 1}"]
    assert found.damaged[0].severity == "caution"
    assert found.damaged[0].text.isprintable()
    assert append(path, [STRIPS[0], STRIPS[5]]).added[0].line == 4
    assert read_log(path).readings == (*STRIPS[:2], STRIPS[5])


def _signed(strip: dict[str, object]) -> bytes:
    """A line whose digest fits whatever it says."""
    kept = {k: v for k, v in strip.items() if k != "note"}
    text = json.dumps(["strip", kept], sort_keys=True, separators=(",", ":"))
    return json.dumps({"digest": hashlib.sha256(text.encode()).hexdigest()[:16], "strip": strip}).encode() + b"\n"


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("nominal", "1.0", "no number"),
        ("nominal", True, "no number"),
        ("nominal", -1.0, "not from"),
        ("nominal", 1e300, "not from"),
        ("width", None, "no number"),
        ("name", 3, "no text"),
        ("name", "x" * 5000, "no text"),
        ("legs", {}, "no list"),
        ("legs", [3], "no JSON object"),
        ("legs", [], "no chain"),
        ("bends", [{"label": "A"}], "missing"),
        ("temper", "hard", "unknown key"),
    ],
)
def test_wrong_types_under_a_right_digest_are_told(path: Path, key: str, value: object, told: str) -> None:
    strip = json.loads(format_line(angle_strip()))["strip"]
    path.write_bytes(_signed(strip) + _signed(strip | {key: value}) + format_line(STRIPS[1]))
    found = read_log(path)
    assert found.readings == (angle_strip(), STRIPS[1])
    assert [(f.where, told in f.text) for f in found.damaged] == [(f"{path}:2", True)]


def test_a_bend_whose_held_side_is_none_is_told(path: Path) -> None:
    strip = json.loads(format_line(angle_strip()))["strip"]
    strip["bends"][0]["held"] = ["first"]
    path.write_bytes(_signed(strip))
    assert "bends[0].held is not one of first, second" in read_log(path).damaged[0].text


def test_what_is_added_after_a_line_without_an_end_begins_on_its_own(path: Path) -> None:
    append(path, STRIPS[:2])
    whole = path.read_bytes()
    path.write_bytes(whole[:-30])
    found = read_log(path)
    assert found.readings == tuple(STRIPS[:1])
    assert found.damaged[0].where == f"{path}:2"
    assert found.damaged[0].text == strip_words.TORN
    assert [e.line for e in append(path, [STRIPS[1], STRIPS[3]]).added] == [3, 4]
    assert path.read_bytes().startswith(whole[:-30] + b"\n")
    assert read_log(path).readings == (STRIPS[0], STRIPS[1], STRIPS[3])


def test_a_whole_last_line_without_an_end_counts(path: Path) -> None:
    """An editor may leave the last end of line away."""
    path.write_bytes(format_line(STRIPS[0]) + format_line(STRIPS[1])[:-1])
    assert read_log(path).readings == tuple(STRIPS[:2])
    assert append(path, STRIPS[:3]).added[0].line == 3
    assert read_log(path).readings == tuple(STRIPS[:3])


def test_line_ends_and_marks_of_other_systems(path: Path) -> None:
    text = b"".join(format_line(s) for s in STRIPS[:3]).replace(b"\n", b"\r\n")
    path.write_bytes(b"\xef\xbb\xbf" + text + b"\r\n")
    assert read_log(path).readings == tuple(STRIPS[:3])
    append(path, [STRIPS[4]])
    assert (read_log(path).readings, read_log(path).damaged) == ((*STRIPS[:3], STRIPS[4]), ())


@pytest.mark.parametrize("seed", both(2000))
def test_mutated_logs_never_lose_a_line_that_was_not_touched(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    path = tmp_path / "strips.jsonl"
    lines = [format_line(s)[:-1] for s in STRIPS] + [format_line(Withdrawal(reading_digest(STRIPS[7]), "worn"))[:-1]]
    touched = set()
    for _ in range(rng.randint(1, 4)):
        n = rng.randrange(len(lines))
        touched.add(n)
        lines[n] = _mutated(lines[n], rng)
    before = b"\n".join(lines) + rng.choice((b"\n", b"", b"\r\n", b"\n\n"))
    path.write_bytes(before)
    found = read_log(path)
    untouched = [STRIPS[n] for n in range(7) if n not in touched]
    assert [r for r in found.readings if r in untouched] == untouched
    known = {replace(s, note="") for s in STRIPS}
    assert {replace(r, note="") for r in found.readings} <= known, "nothing is learned that nobody measured"
    assert len(found.damaged) <= 4 * len(touched) + 1
    append(path, STRIPS)
    assert path.read_bytes().startswith(before)
    there = read_log(path)
    assert {reading_digest(s) for s in STRIPS} == {e.digest for e in there.entries} | {
        w.entry.digest for w in there.withdrawn
    }


def _mutated(line: bytes, rng: random.Random) -> bytes:
    spot = rng.randrange(len(line) + 1)
    strange = rng.choice((b"\0", b"\xff", b"\n", b'"', b"}", b"[" * 2000, b"1e999", b"\\u0000", b"9", b"\r", b"NaN"))
    cut = spot + rng.choice((1, 1, 7, 200))
    return rng.choice((line[:spot] + strange + line[spot:], line[:spot] + line[cut:], line[:spot], line[spot:]))


def test_files_that_are_no_log(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    for path, code in (
        (tmp_path / "folder", "FG001"),
        (tmp_path / "a\0b", "FG001"),
        (tmp_path / "no" / "log", "FG007"),
    ):
        with pytest.raises(InputRefused) as refused:
            append(path, STRIPS[:1])
        assert refused.value.faults[0].code in (code, "FG007")
        assert refused.value.faults[0].remedy
    with pytest.raises(InputRefused):
        read_log(tmp_path / "folder")
    with pytest.raises(InputRefused):
        withdraw(tmp_path / "none", "01234567", "")
    assert not (tmp_path / "none").exists()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name on this system")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputRefused, match="device"):
        read_log(tmp_path / "pipe")


def test_a_log_too_large_is_refused_unread(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    append(path, STRIPS)
    monkeypatch.setattr(logs, "LARGEST_LOG", 1000)
    with pytest.raises(InputRefused, match="larger than 1 000 bytes"):
        read_log(path)


@pytest.mark.parametrize("after", [0, 1, 3])
def test_a_full_disk_leaves_the_log_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch, after: int) -> None:
    append(path, STRIPS[:3])
    before = path.read_bytes()
    write, calls = os.write, []

    def full(descriptor: int, data: bytes) -> int:
        calls.append(1)
        if len(calls) > after:
            raise OSError(28, "No space left on device")
        return write(descriptor, bytes(data[:100]))

    with monkeypatch.context() as patched:
        patched.setattr(os, "write", full)
        with pytest.raises(InputRefused, match="no space left") as refused:
            append(path, STRIPS[3:])
    assert refused.value.faults[0].code == "FG007"
    assert path.read_bytes() == before
    assert len(append(path, STRIPS[3:]).added) == 5


def test_nothing_is_written_that_could_not_be_read_again(path: Path) -> None:
    with pytest.raises(ValueError, match="JSON"):
        append(path, [angle_strip(thickness=float("nan"))])
    assert not path.exists()


def _no_lock(descriptor: int) -> bool:
    raise lock.NoLock(37, "no locks available")


def test_where_the_system_has_no_lock_a_file_beside_it_holds_the_log(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lock, "_take", _no_lock)
    monkeypatch.setattr(lock, "WAIT", 0.05)
    assert len(append(path, STRIPS[:2]).added) == 2
    mark = path.with_name(f".{path.name}.lock")
    assert not mark.exists()
    mark.touch()
    begin = time.monotonic()
    with pytest.raises(InputRefused, match="another run"):
        append(path, STRIPS[2:3])
    assert time.monotonic() - begin < 5
    assert read_log(path).readings == tuple(STRIPS[:2]), "readers do not wait for it"
    past = time.time() - lock.STALE - 1
    os.utime(mark, (past, past))
    assert len(append(path, STRIPS[2:3]).added) == 1, "one left by a run that was killed"
    assert not mark.exists()


def test_a_log_that_is_held_is_waited_for(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    append(path, STRIPS[:1])
    monkeypatch.setattr(lock, "WAIT", 0.05)
    monkeypatch.setattr(logs, "READ_WAIT", 0.05)
    with path.open("rb+") as stream, lock.lock_file(stream.fileno(), path):
        with pytest.raises(InputRefused, match="another run") as refused:
            append(path, STRIPS[1:2])
        assert refused.value.faults[0].remedy == strip_words.WAIT
        assert read_log(path).readings == tuple(STRIPS[:1])
    assert len(append(path, STRIPS[1:2]).added) == 1


KILLS = 10
"""In each batch: 300 in the thorough run, 30 in the normal one."""
MANY = 60
PIECE, PAUSE = 60, 0.0005


@pytest.fixture(scope="module", name="learners")
def _learners() -> Iterator[Learners]:
    with Learners() as made:
        yield made


def _counts(path: Path) -> Counter[str]:
    """How often each whole strip stands in the file, read here by hand."""
    found: Counter[str] = Counter()
    for line in path.read_bytes().split(b"\n") if path.exists() else []:
        try:
            found[json.loads(line)["strip"]["name"]] += 1
        except (ValueError, KeyError):
            continue
    return found


@pytest.mark.parametrize("seed", both(30))
def test_killed_while_it_learns(
    seed: int, learners: Learners, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """Again and again on one log; what was told as done is there, nothing twice, and a later run ends well."""
    rng = random.Random(seed)
    path, done = tmp_path / "strips.jsonl", tmp_path / "done"
    names = {sample(n).name: sample(n) for n in range(MANY)}
    slow, torn, hit = seed % 3 != 2, 0, 0
    for _ in range(KILLS):
        seeds = rng.sample(range(MANY), MANY)
        run = learners.started(path, seeds, done, piece=PIECE if slow else 0, pause=PAUSE if slow else 0.0)
        time.sleep(rng.uniform(0.0, 0.25 if slow else 0.1))
        run.kill()
        hit += run.ended() != 0
        found = read_log(path)
        told = set(done.read_text().split()) if done.exists() else set()
        assert {f"strip {n}" for n in told} <= {r.name for r in found.readings}
        assert all(r == names[r.name] for r in found.readings)
        assert max(_counts(path).values(), default=0) <= 1
        torn += path.exists() and not path.read_bytes().endswith(b"\n") and path.stat().st_size > 0
    damaged = len(read_log(path).damaged)
    assert damaged <= hit
    record_property("killed at work", hit)
    record_property("kills within a line", torn)
    assert hit > 0, "kills that come after the work prove nothing"
    assert torn > 0 or not slow, "no kill came within a line"
    assert learners.started(path, list(range(MANY)), done).ended() == 0
    assert {r.name: r for r in read_log(path).readings} == names
    assert set(_counts(path).values()) == {1}
    assert len(read_log(path).damaged) == damaged


@pytest.mark.parametrize("seed", both(20))
def test_two_that_learn_at_once(seed: int, learners: Learners, tmp_path: Path) -> None:
    path, rng = tmp_path / "strips.jsonl", random.Random(seed)
    seeds = [rng.sample(range(30), 30), rng.sample(range(15, 45), 30)]
    runs = [learners.started(path, own, tmp_path / f"done{n}", piece=300, pause=0.0002) for n, own in enumerate(seeds)]
    assert [run.ended() for run in runs] == [0, 0]
    found = read_log(path)
    assert {r.name for r in found.readings} == {f"strip {n}" for n in range(45)}
    assert (found.damaged, set(_counts(path).values())) == ((), {1})
    assert [len((tmp_path / f"done{n}").read_text().split()) for n in (0, 1)] == [30, 30]
