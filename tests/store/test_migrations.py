import pytest
import sqlalchemy as sa

from sitwell.base.errors import MigrationError
from sitwell.store.database import connect_file, reading, writing
from sitwell.store.migrations import Steps
from sitwell.store.schema import BACKUPS, ERASURES, SETTINGS, STEPS, TABLE_OF, query_table


@pytest.fixture
def engine(tmp_path):
    made = connect_file(tmp_path / "test.sqlite")
    yield made
    made.dispose()


@pytest.fixture
def steps():
    made = Steps()

    @made.add
    def first(connection):
        connection.execute(sa.text("create table one (a integer)"))
        connection.execute(sa.text("insert into one values (41)"))

    @made.add
    def second(connection):
        connection.execute(sa.text("alter table one add column b integer"))
        connection.execute(sa.text("update one set b = a + 1"))

    return made


def tables(engine):
    with reading(engine) as connection:
        return set(sa.inspect(connection).get_table_names())


def test_steps_run_once_and_in_order(engine, steps):
    assert steps.apply(engine) == ("first", "second")
    assert steps.apply(engine) == ()
    with reading(engine) as connection:
        assert connection.execute(sa.text("select a, b from one")).all() == [(41, 42)]


def test_asking_writes_nothing(engine, steps):
    assert steps.pending(engine) == ("first", "second")
    assert steps.applied(engine) == ()
    assert tables(engine) == set()


def test_a_name_can_be_used_once(steps):
    def first(connection):
        raise AssertionError

    with pytest.raises(MigrationError, match="'first' is registered twice; give each step its own"):
        steps.add(first)


def test_a_step_that_fails_leaves_nothing_of_itself(engine, steps):
    @steps.add
    def third(connection):
        connection.execute(sa.text("create table half (a integer)"))
        connection.execute(sa.text("update one set a = 0"))
        raise RuntimeError("cut short")

    with pytest.raises(RuntimeError, match="cut short"):
        steps.apply(engine)
    assert steps.applied(engine) == ("first", "second")
    assert steps.pending(engine) == ("third",)
    assert "half" not in tables(engine)
    with reading(engine) as connection:
        assert connection.execute(sa.text("select a from one")).scalar() == 41


def test_a_newer_database_is_refused_and_not_touched(engine, steps):
    steps.apply(engine)
    older = Steps()
    older.add(_named("another"))
    with pytest.raises(MigrationError, match="been through 'first', which this Sitwell does not"):
        older.pending(engine)
    with pytest.raises(MigrationError, match="open them with the newer Sitwell"):
        older.apply(engine)


def test_an_order_that_changed_is_refused(engine, steps):
    steps.apply(engine)
    swapped = Steps()
    for name in ("second", "first"):
        swapped.add(_named(name))
    with pytest.raises(MigrationError, match="been through 'a changed order of steps'"):
        swapped.pending(engine)


def test_an_unknown_last_step_is_named(engine, steps):
    with pytest.raises(MigrationError, match="No schema step is called 'third'; the steps are"):
        steps.apply(engine, until="third")


def test_the_queries_see_the_tables_as_the_steps_made_them(engine):
    STEPS.apply(engine)
    with reading(engine) as connection:
        inspector = sa.inspect(connection)
        made = {
            name: {column["name"] for column in inspector.get_columns(name)}
            for name in inspector.get_table_names()
        }
    seen = [query_table(name) for name in TABLE_OF.values()] + [SETTINGS, ERASURES, BACKUPS]
    assert made == {t.name: {c.name for c in t.columns} for t in seen} | {
        "migrations": {"position", "name"}
    }


ROWS = {
    "sitters": {"id": "s", "at": "t", "body": b"{}", "mark": "m"},
    "consents": {"id": "c", "at": "t", "body": b"{}", "sitter_id": "s"},
    "sittings": {"id": "g", "at": "t", "body": b"{}", "sitter_id": "s"},
    "heads": {"id": "h", "at": "t", "body": b"{}", "sitter_id": "s", "sitting_id": "g"},
    "kits": {"id": "k", "at": "t", "body": b"{}", "mark": "m"},
    "files": {"id": "f", "at": "t", "body": b"{}", "sitter_id": "s"},
}


@pytest.mark.parametrize("until", STEPS.names())
def test_every_earlier_schema_comes_up_with_its_rows(engine, until):
    STEPS.apply(engine, until=until)
    there = tables(engine)
    before = {name: row for name, row in ROWS.items() if name in there}
    assert before
    with writing(engine) as connection:
        for name, row in before.items():
            connection.execute(query_table(name).insert().values(row))
    STEPS.apply(engine)
    assert STEPS.pending(engine) == ()
    with reading(engine) as connection:
        for name, row in before.items():
            assert [dict(r._mapping) for r in connection.execute(query_table(name).select())] == [
                row
            ]


def test_the_steps_stay_in_the_order_in_which_they_were_released():
    assert STEPS.names() == (
        "sitters_and_consents",
        "sittings_and_what_they_hold",
        "kits_and_rooms",
        "settings",
        "erasures_files_and_backups",
    )


def test_a_row_of_one_sitter_can_not_sit_in_a_sitting_of_another(engine):
    STEPS.apply(engine)
    with writing(engine) as connection:
        for number in "12":
            row = ROWS["sitters"] | {"id": f"s{number}", "mark": number}
            connection.execute(query_table("sitters").insert().values(row))
        sitting = ROWS["sittings"] | {"sitter_id": "s1"}
        connection.execute(query_table("sittings").insert().values(sitting))
    head = ROWS["heads"] | {"sitter_id": "s2"}
    with pytest.raises(Exception, match="does not fit the others"), writing(engine) as connection:
        connection.execute(query_table("heads").insert().values(head))


def _named(name):
    def step(connection):
        pass

    step.__name__ = name
    return step
