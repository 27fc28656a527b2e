"""Design files: whatever may lie at a path, and saving without harm."""

import errno
import io
import os
import stat
import threading
import time
import tracemalloc
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.variants import design_hash
from scenes.files import samples, storage
from scenes.files.state_folder import STATE_VARIABLE, locked
from scenes.problems import DesignProblem

OWN_SHELF = """
[[threads]]
name = "Home Dyed Plum"
kind = "nylon"
size = "A"
colour = "#603060"
diameter = 0.17
tex = 23
spool = 50
price = 1
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A design file in a folder of its own."""
    path = tmp_path / "wrap.toml"
    path.write_text(samples.text("half-scale"), encoding="utf-8")
    return path


def save(design: Design, path: Path) -> None:
    """Save as a program does that has just read the file."""
    storage.save(design, path, storage.read(path))


def refusal(path: Path) -> str:
    with pytest.raises(DesignProblem) as caught:
        storage.load(path)
    sentence = str(caught.value)
    assert sentence.isprintable()
    assert sentence.endswith((".", "?"))
    return sentence


# ---- Reading


def test_a_sample_is_read_from_a_file(file: Path) -> None:
    assert storage.load(file) == samples.load("half-scale")


def test_missing(tmp_path: Path) -> None:
    assert "is not there; give the path of a design file" in refusal(tmp_path / "none.toml")


def test_a_folder(tmp_path: Path) -> None:
    assert "is a folder; give a design file in it" in refusal(tmp_path)


def test_not_toml_with_its_line(file: Path) -> None:
    file.write_text('turnlight = 1\nunits = "mm"\ntitle = what\n')
    sentence = refusal(file)
    assert "not TOML" in sentence
    assert "line 3" in sentence


def test_binary(file: Path) -> None:
    file.write_bytes(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR")
    assert "is not a text" in refusal(file)


def test_not_utf_8_with_its_line(file: Path) -> None:
    file.write_bytes(b'turnlight = 1\ntitle = "caf\xe9"\n')
    assert "is not UTF-8 text (line 2)" in refusal(file)


@pytest.mark.parametrize("content", [b"", b"\n \n", b"\xef\xbb\xbf"])
def test_empty(file: Path, content: bytes) -> None:
    file.write_bytes(content)
    assert "the file is empty" in refusal(file)


def test_fifty_megabytes_are_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    tracemalloc.start()
    began = time.process_time()
    sentence = refusal(path)
    took = time.process_time() - began
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert "holds 50 MB; a design is a text of 1 MB at most" in sentence
    assert peak < 8_000_000
    assert took < 5


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such files on this system")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "pipe.toml"
    os.mkfifo(path)
    assert "is not an ordinary file" in refusal(path)


def test_a_file_that_may_not_be_read(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Whoever runs the tests may be allowed everything, so the system's answer is played.
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    assert "may not be read" in refusal(file)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("a\0b.toml", "is no name of a file"),
        ("\ud800.toml", "is no name of a file"),
        ("x" * 5000 + ".toml", "cannot be read"),
    ],
)
def test_a_name_that_no_file_can_have(tmp_path: Path, name: str, told: str) -> None:
    assert told in refusal(tmp_path / name)
    with pytest.raises(DesignProblem, match="name") as caught:
        storage.replace(tmp_path / name, "")
    assert "codec" not in str(caught.value)


def test_a_text_that_is_none_is_refused_in_plain_words(file: Path) -> None:
    before = file.read_bytes()
    with pytest.raises(DesignProblem, match="half a character") as caught:
        storage.replace(file, "\udcfc")
    assert "codec" not in str(caught.value)
    assert leftovers(file.parent) == ["wrap.toml"]
    assert file.read_bytes() == before


@pytest.mark.skipif(os.name == "nt", reason="Windows reads with no wish not to wait")
def test_a_file_that_has_nothing_to_give_yet_is_empty(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # As the kernel's log does, an ordinary file by its kind: EAGAIN, which Python makes None.
    class Waiting(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            return None  # type: ignore[return-value]

        def fileno(self) -> int:
            return opened[-1]

    opened: list[int] = []

    def fdopen(descriptor: int, mode: str) -> Waiting:
        opened.append(descriptor)
        return Waiting()

    monkeypatch.setattr(os, "fdopen", fdopen)
    told = refusal(file)
    os.close(opened[-1])
    assert "the file is empty" in told


def test_a_newer_version(file: Path) -> None:
    file.write_text(file.read_text().replace("turnlight = 1 ", "turnlight = 9 "))
    assert "turnlight: version 9 is newer than this Turnlight reads (1)" in refusal(file)


def test_another_kind_of_toml(file: Path) -> None:
    file.write_text('[project]\nname = "x"\n')
    assert "turnlight is missing; give turnlight = 1" in refusal(file)


@pytest.mark.parametrize(
    "text", ["a = " + "[" * 50_000, "a = " + "9" * 9_000, "a" + ".a" * 400_000, "x." * 100 + "x"]
)
def test_toml_that_no_parser_can_take(file: Path, text: str) -> None:
    file.write_text(text + " = 1\n")
    began = time.process_time()
    assert refusal(file)
    assert time.process_time() - began < 10


def test_a_byte_order_mark_and_windows_line_ends_are_read(file: Path) -> None:
    text = samples.text("half-scale").replace("\n", "\r\n")
    file.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert design_hash(storage.load(file)) == design_hash(samples.load("half-scale"))


def test_the_sentence_begins_with_the_file(file: Path) -> None:
    file.write_text(file.read_text().replace("gap = 21.2", "gap = 80"))
    with pytest.raises(DesignProblem) as caught:
        storage.load(file)
    assert str(caught.value).startswith('"')
    assert "wrap.toml" in str(caught.value)
    assert caught.value.field == "relief.gap"


def test_an_unknown_thread(file: Path) -> None:
    file.write_text(file.read_text().replace('thread = "Bracken Bronze A"', 'thread = "Herron A"'))
    assert "cover.thread: there is no thread" in refusal(file)


# ---- The builder's own shelf


def with_shelf(file: Path, name: str) -> None:
    text = file.read_text().replace('units = "mm"', f"shelf = '{name}'\nunits = \"mm\"")
    file.write_text(text.replace('thread = "Bracken Bronze A"', 'thread = "Home Dyed Plum"'))


def test_a_shelf_beside_the_design_is_found(file: Path) -> None:
    (file.parent / "mine.toml").write_text(OWN_SHELF)
    with_shelf(file, "mine.toml")
    design = storage.load(file)
    assert design.cover.thread == "Home Dyed Plum"
    assert "Tarn Teal A" in storage.shelf_for(design, file)


@pytest.mark.parametrize(
    "name",
    ["../mine.toml", "/etc/mine.toml", "sub/mine.toml", "..\\mine.toml", "C:mine.toml", ".."],
)
def test_a_shelf_elsewhere_is_refused(file: Path, name: str) -> None:
    (file.parent.parent / "mine.toml").write_text(OWN_SHELF)
    with_shelf(file, name)
    assert "is not a file beside the design" in refusal(file)


def test_a_shelf_that_a_link_leads_elsewhere_for_is_refused(file: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "mine.toml").write_text(OWN_SHELF)
    try:
        (file.parent / "mine.toml").symlink_to(outside / "mine.toml")
    except OSError:
        pytest.skip("links cannot be made here")
    with_shelf(file, "mine.toml")
    assert "is not a file beside the design" in refusal(file)


def test_a_shelf_that_is_missing_or_broken(file: Path) -> None:
    with_shelf(file, "mine.toml")
    assert "shelf: " in refusal(file)
    (file.parent / "mine.toml").write_text("[[threads]]\nnam = 3\n")
    assert "shelf: " in refusal(file)


# ---- Saving


def test_saving_an_unchanged_design_changes_no_byte(file: Path) -> None:
    before = file.read_bytes()
    save(storage.load(file), file)
    assert file.read_bytes() == before


def test_saving_keeps_the_comments(file: Path) -> None:
    save(with_changes(storage.load(file), {"relief.gap": 20, "finish.coats": 3}), file)
    before, after = samples.text("half-scale").splitlines(), file.read_text().splitlines()
    changed = [(one, other) for one, other in zip(before, after, strict=True) if one != other]
    assert changed == [
        (
            "gap = 21.2                     # along the blank; the strip's width follows: eight "
            "cells",
            "gap = 20                     # along the blank; the strip's width follows: eight "
            "cells",
        ),
        ("coats = 2", "coats = 3"),
    ]


def test_saving_to_a_new_name(tmp_path: Path) -> None:
    for name in samples.names():
        design = samples.load(name)
        storage.derive(design, "", tmp_path / f"{name}.toml")
        assert storage.load(tmp_path / f"{name}.toml") == design
        assert (tmp_path / f"{name}.toml").read_text().startswith("turnlight = 1\n")


def test_windows_line_ends_stay(file: Path) -> None:
    file.write_bytes(samples.text("half-scale").replace("\n", "\r\n").encode())
    design = with_changes(storage.load(file), {"relief.gap": 20})
    save(design, file)
    text = file.read_bytes()
    assert text.count(b"\n") == text.count(b"\r\n") > 50
    assert document_of(storage.load(file)) == document_of(design)


def leftovers(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir())


@pytest.mark.parametrize("failing", ["fsync", "replace"])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_leaves_the_file_as_it_was(
    file: Path, monkeypatch: pytest.MonkeyPatch, failing: str, error: BaseException
) -> None:
    before = file.read_bytes()
    design = with_changes(storage.load(file), {"relief.gap": 20})

    def fail(*_: object) -> None:
        raise error

    monkeypatch.setattr(os, failing, fail)
    if isinstance(error, OSError):
        with pytest.raises(DesignProblem, match="there is no room left on the disk; free"):
            save(design, file)
    else:
        with pytest.raises(KeyboardInterrupt):
            save(design, file)
    assert file.read_bytes() == before
    assert leftovers(file.parent) == ["wrap.toml"]


def test_a_read_only_folder(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    design = storage.load(file)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(DesignProblem, match="cannot be written, because its folder is read-only"):
        storage.derive(design, "", file.parent / "new.toml")
    assert leftovers(file.parent) == ["wrap.toml"]


def test_a_read_only_file(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    design = storage.load(file)
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(DesignProblem, match="may not be changed"):
        save(design, file)


def test_an_absent_folder_or_a_folder_as_file(tmp_path: Path) -> None:
    design = samples.load("half-scale")
    with pytest.raises(DesignProblem, match="its folder is not there"):
        storage.derive(design, "", tmp_path / "none" / "wrap.toml")
    with pytest.raises(DesignProblem, match="is a folder"):
        storage.replace(tmp_path, "")


def test_the_rights_of_a_file_stay(file: Path) -> None:
    file.chmod(0o640)
    before = stat.S_IMODE(file.stat().st_mode)
    save(with_changes(storage.load(file), {"relief.gap": 20}), file)
    assert stat.S_IMODE(file.stat().st_mode) == before


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root gives files away"
)
def test_a_file_stays_its_owners_when_root_changes_it(file: Path) -> None:
    os.chown(file, 12_345, 23_456)
    file.chmod(0o640)
    save(with_changes(storage.load(file), {"relief.gap": 20}), file)
    status = file.stat()
    assert (status.st_uid, status.st_gid) == (12_345, 23_456)
    assert stat.S_IMODE(status.st_mode) == 0o640


def test_a_file_is_changed_where_its_owner_cannot_be_kept(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "chown", refuse, raising=False)
    save(with_changes(storage.load(file), {"relief.gap": 20}), file)
    assert "gap = 20 " in file.read_text()


def test_a_link_to_a_file_stays_a_link(file: Path) -> None:
    link = file.parent / "link.toml"
    try:
        link.symlink_to(file)
    except OSError:
        pytest.skip("links cannot be made here")
    save(with_changes(storage.load(link), {"relief.gap": 20}), link)
    assert link.is_symlink()
    assert "gap = 20 " in file.read_text()


def test_a_new_file_is_made_but_never_over_another(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    storage.create(samples.text("full-mesh"), path)
    assert path.read_text(encoding="utf-8") == samples.text("full-mesh")
    with pytest.raises(DesignProblem, match="is there already; give another name"):
        storage.create(samples.text("half-scale"), path)
    assert path.read_text(encoding="utf-8") == samples.text("full-mesh")
    assert leftovers(tmp_path) == ["new.toml"]


def test_a_text_may_be_read_without_a_file() -> None:
    design = storage.parse(samples.text("graded-trim"))
    assert design == design_from(document_of(design))


# ---- Two programs, one file


def test_a_new_file_is_not_put_over_one_that_appears_meanwhile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "new.toml"
    fsync = os.fsync

    def another_is_quicker(file: int) -> None:
        fsync(file)
        path.write_text("theirs", encoding="utf-8")

    monkeypatch.setattr(os, "fsync", another_is_quicker)
    with pytest.raises(DesignProblem, match="is there already; give another name"):
        storage.create("mine", path)
    assert path.read_text(encoding="utf-8") == "theirs"
    assert leftovers(tmp_path) == ["new.toml"]


def test_a_new_file_where_there_are_no_hard_links(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none_here(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", none_here)
    storage.create("mine", tmp_path / "new.toml")
    assert (tmp_path / "new.toml").read_text(encoding="utf-8") == "mine"
    assert leftovers(tmp_path) == ["new.toml"]


def test_what_was_changed_since_it_was_read_stays(file: Path) -> None:
    text = storage.read(file)
    theirs = text.replace("gap = 21.2", "gap = 22.2")
    status = file.stat()
    file.write_text(theirs, encoding="utf-8")
    # As large as before and as old: nothing but the content tells.
    os.utime(file, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert file.stat().st_size == status.st_size
    with pytest.raises(storage.FileChanged, match="read it anew and try again"):
        storage.save(with_changes(storage.parse(text), {"relief.gap": 20}), file, text)
    assert file.read_text(encoding="utf-8") == theirs
    assert leftovers(file.parent) == ["wrap.toml"]


@pytest.mark.parametrize("theirs", [b"turnlight = 1\0", b"x" * 1_000_001], ids=["zero", "large"])
def test_what_has_become_something_else_stays(file: Path, theirs: bytes) -> None:
    text = storage.read(file)
    file.write_bytes(theirs)
    with pytest.raises(storage.FileChanged):
        storage.update(file, text, text)
    assert file.read_bytes() == theirs


def test_a_file_is_removed_only_as_it_was_read(file: Path) -> None:
    text = storage.read(file)
    file.write_text(f"{text}# theirs\n", encoding="utf-8")
    with pytest.raises(storage.FileChanged):
        storage.remove(file, text)
    assert leftovers(file.parent) == ["wrap.toml"]
    storage.remove(file, f"{text}# theirs\n")
    assert leftovers(file.parent) == []


@pytest.mark.parametrize("has_state", [True, False], ids=["with locks", "without locks"])
def test_of_many_at_once_none_loses_an_edit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, has_state: bool
) -> None:
    """Writers that read, add a line and write: as many lines as writers that were not refused."""
    file, state = tmp_path / "lines.toml", tmp_path / "state"
    file.write_text("# first\n", encoding="utf-8")
    if not has_state:
        # No folder can be made there: what is left is the look right before the replacing.
        state.write_text("a file", encoding="utf-8")
    monkeypatch.setenv(STATE_VARIABLE, str(state))
    many, each = (8, 12) if has_state else (1, 12)
    together = threading.Barrier(many)

    def write(name: int) -> int:
        done = 0
        together.wait()
        for number in range(each):
            text = storage.read(file)
            try:
                storage.update(file, f"{text}# {name} {number}\n", text)
                done += 1
            except storage.FileChanged:
                pass
        return done

    with ThreadPoolExecutor(many) as pool:
        done = sum(pool.map(write, range(many)))
    lines = file.read_text(encoding="utf-8").splitlines()[1:]
    assert len(lines) == len(set(lines)) == done >= each


def test_of_many_new_files_of_one_name_there_is_one(tmp_path: Path) -> None:
    together = threading.Barrier(8)

    def make(name: int) -> str:
        together.wait()
        try:
            storage.create(f"# {name}\n", tmp_path / "new.toml")
        except storage.NameTaken:
            return ""
        return f"# {name}\n"

    with ThreadPoolExecutor(8) as pool:
        made = [one for one in pool.map(make, range(8)) if one]
    assert made == [(tmp_path / "new.toml").read_text(encoding="utf-8")]


def test_no_lock_is_left_beside_a_design(file: Path) -> None:
    save(with_changes(storage.load(file), {"relief.gap": 20}), file)
    assert leftovers(file.parent) == ["wrap.toml"]


def test_locks_do_not_grow_with_what_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path))
    for number in range(400):
        with locked(tmp_path / f"{number}.toml"):
            pass
    assert 100 < len(list((tmp_path / "locks").iterdir())) <= 256
