"""The store: nothing is trusted but bytes, and nothing half-made is ever in place."""

from pathlib import Path

import pytest

from pipeline.errors import Faulty
from pipeline.targets.store import Store


def keep(store: Store, name: str, text: str, key: str = "k", path: str | None = "out/a.txt") -> None:
    draft = store.scratch / f"{name}-draft"
    draft.write_text(text, "utf-8")
    store.keep(name, key, draft, path)


def test_a_kept_draft_stands_in_its_place_and_is_fresh(tmp_path: Path) -> None:
    store = Store(tmp_path)
    keep(store, "a", "words")
    assert (tmp_path / "out/a.txt").read_text("utf-8") == "words"
    assert store.fresh("a", "k", "out/a.txt")
    assert not store.fresh("a", "another key", "out/a.txt")
    assert not any(store.scratch.iterdir())


def test_the_record_is_read_again_by_the_next_build(tmp_path: Path) -> None:
    keep(Store(tmp_path), "a", "words")
    assert Store(tmp_path).fresh("a", "k", "out/a.txt")


def test_a_record_cut_short_by_a_kill_loses_only_its_last_line(tmp_path: Path) -> None:
    store = Store(tmp_path)
    keep(store, "a", "one", path="out/a.txt")
    keep(store, "b", "two", path="out/b.txt")
    whole = store.record.file.read_bytes()
    store.record.file.write_bytes(whole[:-9])
    again = Store(tmp_path)
    assert again.fresh("a", "k", "out/a.txt")
    assert not again.fresh("b", "k", "out/b.txt")


def test_a_deleted_or_edited_output_is_missing(tmp_path: Path) -> None:
    store = Store(tmp_path)
    keep(store, "a", "words")
    (tmp_path / "out/a.txt").unlink()
    assert not store.fresh("a", "k", "out/a.txt")
    assert store.reuse("a", "k", "out/a.txt")
    assert (tmp_path / "out/a.txt").read_text("utf-8") == "words"


def test_a_flipped_bit_is_seen_when_asked_for_and_never_reused(tmp_path: Path) -> None:
    store = Store(tmp_path)
    keep(store, "a", "words")
    stands = store.object_path(store.made["a"].object)
    stamp = stands.stat()
    stands.write_text("wards", "utf-8")
    import os

    os.utime(stands, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    assert store.fresh("a", "k", "out/a.txt")
    assert not store.fresh("a", "k", "out/a.txt", verify=True)
    assert not store.reuse("a", "k", "out/a.txt")
    keep(store, "a", "words")
    assert stands.read_text("utf-8") == "words"


def test_a_folder_is_kept_and_replaced_whole(tmp_path: Path) -> None:
    store = Store(tmp_path)
    for words in ("first", "second"):
        draft = store.scratch / "frames"
        draft.mkdir()
        (draft / f"{words}.png").write_text(words, "utf-8")
        store.keep("frames", words, draft, "out/frames")
    assert [file.name for file in (tmp_path / "out/frames").iterdir()] == ["second.png"]
    assert store.fresh("frames", "second", "out/frames", verify=True)


def test_two_builds_in_one_folder_the_second_says_so_at_once(tmp_path: Path) -> None:
    first, second = Store(tmp_path), Store(tmp_path)
    with first.locked(), pytest.raises(Faulty, match="another build is at work"), second.locked():
        pass


def test_clean_drops_only_what_nothing_stands_on(tmp_path: Path) -> None:
    store = Store(tmp_path)
    keep(store, "a", "old", key="1")
    keep(store, "a", "newer", key="2")
    assert store.sizes() == (2, 8)
    assert store.clean() == (1, 3)
    assert store.fresh("a", "2", "out/a.txt", verify=True)


def test_a_folder_that_cannot_be_made_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", "utf-8")
    with pytest.raises(Faulty, match="cannot be written") as caught:
        Store(tmp_path / "taken" / "build")
    assert len(caught.value.faults) == 1


def swept_and_kept(folder: Path) -> None:
    store = Store(folder)
    with store.locked():
        keep(store, "a", "words")


@pytest.mark.parametrize("link", [".store", ".store/scratch", ".store/objects", ".store/objects/ab", "out"])
def test_links_that_a_build_folder_brings_lead_nowhere(link: str, tmp_path: Path) -> None:
    theirs = tmp_path / "theirs"
    theirs.mkdir()
    (theirs / "a.txt").write_text("kept", "utf-8")
    folder = tmp_path / "build"
    (folder / link).parent.mkdir(parents=True)
    (folder / link).symlink_to(theirs)
    with pytest.raises(Faulty, match="a link stands"):
        swept_and_kept(folder)
    assert [path.read_text("utf-8") for path in theirs.rglob("*.txt")] == ["kept"]
