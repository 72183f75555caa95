"""A model of Larch for `handtick check`: its own simulation, with what it should leave on each bus after every tick."""

from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import RAIN_TALLY


class LarchModel:
    """Larch with the rain tally."""

    def reset(self):
        """At its start."""
        self.larch = Larch(RAIN_TALLY)

    def tick(self):
        """One tick on; the buses then."""
        self.larch.set_clock(True)
        self.larch.set_clock(False)
        lines = self.larch.probes()
        return {"data": lines & 0xFF, "giver": lines >> 8 & 7, "taker": lines >> 11 & 15, "fetch": lines >> 15}
