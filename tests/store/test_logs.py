"""The log holds no sitter, whatever is thrown at it."""

import ast
import logging
from pathlib import Path

import pytest

import sitwell
from sitwell.store.erase import forget
from sitwell.store.logs import start_log
from sitwell.store.opening import open_records
from sitwell.store.places import make_places

SECRET = "Secret Nose 0.7319"
PACKAGE = Path(sitwell.__file__).parent
METHODS = {"debug", "info", "warning", "error", "exception", "critical", "log"}


@pytest.fixture
def log(home):
    places = make_places(home)
    start_log(places)
    return places.logs / "sitwell.log"


def test_words_and_whole_numbers_are_written(log):
    logging.getLogger("sitwell.any").info("%d frames read, %s", 12, True)
    assert log.read_text().endswith("INFO 12 frames read, True\n")


@pytest.mark.parametrize("value", [SECRET, 0.7319, Path(SECRET), [SECRET], {"a": SECRET}])
def test_everything_else_is_left_out(log, value):
    logging.getLogger("sitwell.any").info("read %s of %s", value, 3)
    logging.getLogger("sitwell.any").info("read %(a)s", {"a": value})
    text = log.read_text()
    assert "read [left out] of 3" in text
    assert "read [left out]\n" in text
    assert "7319" not in text
    assert "Secret" not in text


def test_of_an_error_only_its_kind_is_written(log):
    try:
        raise ValueError(SECRET)
    except ValueError as error:
        logging.getLogger("sitwell.any").exception("can't read", stack_info=True)
        logging.getLogger("sitwell.any").error(error)
    text = log.read_text()
    assert "can't read (ValueError)" in text
    assert "Secret" not in text


def test_a_whole_life_of_records_leaves_no_sitter_in_the_log(home, fill):
    with open_records(home) as records:
        filled = fill(records)
        forget(records, filled.sitter)
    text = (home / "logs" / "sitwell.log").read_text()
    assert "records opened, 0 erasures made" in text
    assert "1 erasures carried out, 1 whole" in text
    assert "Zwiebelturm" not in text
    assert filled.sitter.id not in text


def test_another_home_has_its_own_log_and_a_long_one_starts_over(log, tmp_path):
    log.write_bytes(b"x" * (1024 * 1024 + 1))
    start_log(make_places(tmp_path / "other"))
    logging.getLogger("sitwell").info("elsewhere")
    assert "elsewhere" not in log.read_text()
    start_log(make_places(log.parent.parent))
    assert log.stat().st_size == 0


def test_no_message_in_the_package_is_built_from_values():
    """The filter can't see into a message that is built before it is logged."""
    built = []
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
                continue
            logger = ast.unparse(node.func.value).lower()
            if node.func.attr in METHODS and "log" in logger and node.args:
                message = node.args[1 if node.func.attr == "log" else 0]
                built += [] if isinstance(message, ast.Constant) else [f"{path}: {node.lineno}"]
    assert built == []
