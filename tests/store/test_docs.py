"""The pages on records and privacy, held to what the code does."""

import re
from pathlib import Path

from sitwell.store import entries
from sitwell.store.consent import DEFAULT_TERM_DAYS
from sitwell.store.sealed import LOST_PASSPHRASE
from sitwell.store.unrecorded import READINGS_TERM_DAYS

DOCS = Path(__file__).resolve().parents[2] / "docs"


def test_the_example_runs(home, monkeypatch, capsys):
    monkeypatch.setenv("SITWELL_HOME", str(home))
    (example,) = re.findall(
        r"```python\n(.*?)```", (DOCS / "records.md").read_text(encoding="utf-8"), re.DOTALL
    )
    exec(compile(example, "docs/records.md", "exec"), {})
    assert "Erased of M. 14 (everything):" in capsys.readouterr().out


def test_the_pages_state_the_terms_that_are_used():
    page = (DOCS / "privacy.md").read_text(encoding="utf-8")
    assert f"The default is {DEFAULT_TERM_DAYS} days" in page
    assert entries.LONGEST_TERM_YEARS == 3
    assert "More than three years is refused" in page
    assert f"for {READINGS_TERM_DAYS} days after they were last used" in page
    assert "ask a lawyer" in page


def test_the_loss_of_a_passphrase_stands_in_the_page():
    page = (DOCS / "records.md").read_text(encoding="utf-8")
    assert LOST_PASSPHRASE.split(". ")[0] in page
