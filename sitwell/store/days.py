"""A day in words, as a letter would write it, in the language that is spoken."""

from datetime import date

from sitwell.base.words import mark, tr

_MONTHS = (
    mark("January"), mark("February"), mark("March"), mark("April"), mark("May"), mark("June"),
    mark("July"), mark("August"), mark("September"), mark("October"), mark("November"),
    mark("December"),
)  # fmt: skip


def day_words(day: date) -> str:
    """The 3rd of May as "3 May 2027"."""
    month = tr(_MONTHS[day.month - 1])
    return tr("{day} {month} {year}", day=str(day.day), month=month, year=str(day.year))
