"""What a set-up does for each wish, measure by measure."""

from sitwell.search.benefit import Benefit
from sitwell.search.plan import Gain
from sitwell.search.search_space import SearchSpace, Vector

IN_PICTURE = "forehead_in_picture"  # told where a cut makes it another than the forehead's share


def find_gains(
    benefit: Benefit, space: SearchSpace, was: Vector, becomes: Vector
) -> tuple[Gain, ...]:
    """A gain for each measure that stands for a wish, from what was and what becomes measured."""
    before, after, steps = space.reader(was), space.reader(becomes), benefit.steps(becomes)
    return tuple(
        Gain(
            wish=benefit.wishes[owner].feature,
            measure=aim.measure,
            was=before(aim.measure),
            becomes=after(aim.measure),
            gain=float(steps[index]),
        )
        for index, (owner, aim) in enumerate(benefit.aims)
        if aim.stands
        and (aim.measure != IN_PICTURE or after("forehead_share") != after(IN_PICTURE))
    )
