"""What the pages' door to the work hands on while it goes on."""

from types import SimpleNamespace

from sitwell.ui.web import planning


def test_the_strong_set_up_is_handed_on_before_the_plan_is_there(monkeypatch):
    told = []

    def plan(brief, sitters, *, progress, stop, on_strong):
        progress(0.1, "screening")
        on_strong("strong")
        assert told[-1][2] == "strong"
        return SimpleNamespace(found="plan")

    monkeypatch.setattr(planning.flow, "plan", plan)
    made = planning.plan_brief("brief", (), lambda *words: told.append(words), lambda: False)
    assert made == "plan"
    assert [len(words) for words in told] == [2, 3]
