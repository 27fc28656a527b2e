"""Work that was not saved, as owner and guest see it: it is the owner's alone."""

from collections.abc import Callable
from pathlib import Path

import pytest

from render.editor.recovery import Snapshot, open_slot
from render.page.server.roles import Role
from scenes.files import samples
from tests.loops import run
from tests.render.page.server.serving import Serve, serving_in


@pytest.fixture
def serve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Serve:
    return serving_in(tmp_path, monkeypatch)


@pytest.fixture
def left_over(tmp_path: Path) -> Callable[[], None]:
    """Leave work of a program that was ended."""

    def leave() -> None:
        text = samples.text("full-mesh")
        slot = open_slot(tmp_path / "state")
        slot.write(Snapshot(text, text, "", "rescued-wrap"))
        slot.close()

    return leave


def test_lost_work_waits_for_the_owner_and_no_guest_decides_on_it(
    serve: Serve, left_over: Callable[[], None]
) -> None:
    left_over()

    async def act() -> None:
        async with serve() as served:
            (work,) = served.page.state.file_lost
            async with served.client(Role.GUEST) as guest:
                # Nobody else is there, and the question is not the guest's.
                assert guest.state["file_lost"] == []
                served.page.sharing.let_guests_edit(True)
                for name in ("file_recover", "file_forget", "file_reload", "file_keep_mine"):
                    given = [work["key"]] if name in ("file_recover", "file_forget") else []
                    assert "not for guests" in (await guest.trigger(name, *given)).refusal
                assert work["key"] not in repr(guest.state) + repr(guest.pushed)
                assert "rescued-wrap" not in repr(guest.state) + repr(guest.pushed)
                async with served.client() as owner:
                    assert owner.state["file_lost"] == [work]
                    answer = await owner.trigger("file_recover", work["key"])
                    assert answer.result["problem"] == ""
                    await guest.trigger("pic_frames")
                    assert "file_lost" not in {key for one in guest.pushed for key in one}

                    assert served.page.state.file_lost == []

    run(act())
