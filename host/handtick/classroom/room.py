"""The room: who may do what, and what comes of it. It knows no socket and no board; whoever has them tells it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from handtick.classroom.asked import DEEDS, HOLDER, ONLY_TEACHER, Asked, one_line
from handtick.classroom.calls import Answer, Calls, read_value
from handtick.classroom.crank import GONE_S, MOST_WAITING, Crank
from handtick.classroom.lesson import Lesson, Watcher
from handtick.classroom.news import News
from handtick.classroom.people import MOST_HERE, PUPIL, SCREEN, TEACHER, People, Person
from handtick.errors import Refused, UsageError
from handtick.events import Answer as Reply
from handtick.events import Event, Greeting, ResetDone, Tick
from handtick.quantities import rate_of
from handtick.wiring import Bus, Wiring
from handtick_wire.messages import FLAG_IN_RESET, read_rate

#: What pupils may until the teacher says otherwise: ticks a second at most.
PUPILS_RATE = "20"
_SHOWN_WAITING = 20


class Clock(Protocol):
    """Whoever drives the clock, as ``handtick.live.driver.Driver`` does."""

    def send(self, kind: str, *values: int | str) -> None:
        """Asks for something, without waiting for it."""
        ...


class Room:
    """One class with one clock.

    Args:
        wiring: names the buses.
        clock: drives the clock.
        lesson: the lesson, if there is one.
        live: False where the ticks are from a log.
        gone_s: seconds after which the crank comes back from somebody whose link is gone.
        most_here: how many people may be there at once.

    Attributes:
        news: what is told of the clock.
        people, crank, calls: who is there, who drives, and what was called.
        open: whether people may join.
        changed: whether anything but the clock has changed since somebody last looked, who sets it False.
    """

    def __init__(
        self,
        wiring: Wiring,
        clock: Clock,
        lesson: Lesson | None = None,
        live: bool = True,
        gone_s: float = GONE_S,
        most_here: int = MOST_HERE,
    ) -> None:
        self.news = News(wiring, live)
        self.people = People(most_here)
        self.crank = Crank(gone_s)
        self.calls = Calls()
        self.open = True
        self.changed = True
        self._clock = clock
        self._buses: dict[str, Bus] = {bus.name: bus for bus in wiring.shown}
        self._lesson = lesson
        self._watcher = Watcher(lesson.expect, wiring) if lesson is not None and lesson.expect is not None else None
        self._place: int | None = None
        # On the way to a stop that lies before the present tick: what to ask for once the machine is reset, unless
        # anything else is asked of the clock first.
        self._to_stop: tuple[int, str] | None = None
        self._asked = ""
        self._rate = PUPILS_RATE
        self._may_reset = False
        self._may_note = True
        self._does: dict[str, Callable[[Person, dict[str, Any]], dict[str, Any] | None]] = {
            name: getattr(self, f"_do_{name}") for name in DEEDS
        }

    # What happens.

    def heard(self, event: Event) -> None:
        """Something was heard of the clock."""
        boot, reset = self.news.boot, self.news.state.reset
        self.news.take(event)
        if isinstance(event, Tick) and not event.flags & FLAG_IN_RESET:
            self._answer_calls(event)
            if self._watcher is not None and self._watcher.take(event):
                self.changed = True
        elif isinstance(event, ResetDone):
            self._start_over()
            if self._to_stop is not None:
                self._clock.send("to", *self._to_stop)
                self._to_stop = None
        elif isinstance(event, Greeting):
            self._to_stop = None
            if (event.boot, event.reset) != (boot, reset):
                self._start_over()
        elif isinstance(event, Reply) and event.kind != "done":
            self._to_stop = None

    def join(self, name: str, role: str = PUPIL) -> Person:
        """Somebody comes in who had the right word.

        Raises:
            Refused: the door is closed, or the room full.
            UsageError: the name is none.
        """
        if role != TEACHER and not self.open:
            raise Refused("the teacher lets nobody in just now")
        person = self.people.join(name, role)
        # Whoever was forgotten for want of room waits no longer.
        self.crank.keep(self.people.known)
        self.changed = True
        return person

    def here(self, person: Person) -> None:
        """A connection of somebody is there."""
        person.here += 1
        self.crank.back(person.number)
        self.changed = True

    def away(self, person: Person, now_s: float) -> None:
        """A connection of somebody is gone."""
        person.here -= 1
        if not person.here:
            self.crank.gone(person.number, now_s)
        self.changed = True

    def pass_time(self, now_s: float) -> None:
        """Lets time pass: the crank of somebody who is gone comes back, and the clock rests."""
        if self.crank.pass_time(now_s):
            self._rest()

    def take(self, person: Person, asked: Asked) -> dict[str, Any] | None:
        """Somebody asks for something of ``DEEDS``; returns what to tell them alone, if anything.

        Raises:
            Refused: they may not, or not now; nothing was done.
            UsageError: what they ask has no meaning.
        """
        if self.people.known.get(person.number) is not person:
            raise Refused("you are no longer in the room; join again")
        who = DEEDS[asked.do].who
        if person.role == SCREEN and asked.do != "back":
            raise Refused("a screen only watches; join with a name")
        if who == ONLY_TEACHER and not person.teacher:
            raise Refused("only the teacher can do that")
        if who == HOLDER and not self._drives(person):
            raise Refused(f"{self._holder_name()} has the crank")
        if who == HOLDER:
            self._to_stop = None
        return self._does[asked.do](person, asked.fields)

    # What is told.

    def told(self) -> dict[str, Any]:
        """Everything but the clock, for everybody."""
        names = {number: person.name for number, person in self.people.known.items()}
        waiting = self.crank.waiting[:_SHOWN_WAITING]
        return {
            "here": self.people.count(),
            "open": self.open,
            "holder": self.crank.holder,
            "holder_name": self._holder_name(),
            "waiting": [[number, names.get(number, "")] for number in waiting],
            "waiting_more": len(self.crank.waiting) - len(waiting),
            "rate": self._rate,
            "may_reset": self._may_reset,
            "may_note": self._may_note,
            "asked": self._asked,
            "called": self.calls.made(),
            "answers": [_answer_told(answer) for answer in self.calls.answers],
            "lesson": self._lesson_told(),
        }

    def told_to(self, person: Person) -> dict[str, Any]:
        """What one person alone is told: themselves, and for the teacher everybody."""
        you: dict[str, Any] = {"number": person.number, "name": person.name, "role": person.role}
        you["called"] = {name: self._buses[name].text(value) for name, value in self.calls.of(person.number).items()}
        if person.teacher:
            you["people"] = [
                [each.number, each.name, each.role, bool(each.here)]
                for each in self.people.known.values()
                if not each.teacher
            ]
        return you

    # What is done.

    def _do_step(self, person: Person, fields: dict[str, Any]) -> None:
        self._clock.send("step", 1)

    def _do_half(self, person: Person, fields: dict[str, Any]) -> None:
        self._clock.send("half")

    def _do_run(self, person: Person, fields: dict[str, Any]) -> None:
        rate = rate_of(fields["rate"])
        if not person.teacher and (read_rate(rate) or 0) > (read_rate(self._rate) or 0):
            raise Refused(f"{rate} Hz: the teacher's limit is {self._rate} Hz")
        self._clock.send("run", rate)

    def _do_halt(self, person: Person, fields: dict[str, Any]) -> None:
        self._clock.send("halt")

    def _do_to(self, person: Person, fields: dict[str, Any]) -> None:
        self._clock.send("to", fields["tick"], "1000" if person.teacher else self._rate)

    def _do_reset(self, person: Person, fields: dict[str, Any]) -> None:
        if not person.teacher and not self._may_reset:
            raise Refused("the teacher does not let others reset the machine")
        self._clock.send("reset")

    def _do_wait(self, person: Person, fields: dict[str, Any]) -> None:
        if len(self.crank.waiting) >= MOST_WAITING:
            self.crank.keep(number for number, each in self.people.known.items() if each.here)
        if not person.teacher and self.crank.ask(person.number):
            self.changed = True

    def _do_leave(self, person: Person, fields: dict[str, Any]) -> None:
        self.crank.leave(person.number)
        self.changed = True

    def _do_return(self, person: Person, fields: dict[str, Any]) -> None:
        self._hand_to(None)

    def _do_call(self, person: Person, fields: dict[str, Any]) -> dict[str, Any]:
        bus = self._bus(fields["bus"])
        value = read_value(bus, fields["value"])
        state = self.news.state
        if (fields["reset"], fields["tick"]) != (state.reset, state.tick + 1):
            raise Refused(f"tick {fields['tick']} has come already; call the next one")
        if self.news.half:
            raise Refused(f"tick {state.tick} is half done; call the next one once it is over")
        self.calls.say(person.number, bus, value, (state.reset, state.tick + 1))
        self.changed = True
        return {"called": {"bus": bus.name, "value": bus.text(value), "tick": state.tick + 1}}

    def _do_note(self, person: Person, fields: dict[str, Any]) -> dict[str, Any]:
        if not person.teacher and not self._may_note:
            raise Refused("the teacher lets nobody write notes just now")
        text = one_line(fields["text"])
        if not text:
            raise UsageError("an empty note says nothing")
        if not self.news.live:
            raise Refused("these ticks are from a log, which takes no notes from here")
        if (fields["reset"], fields["tick"]) > (self.news.state.reset, self.news.state.tick):
            raise Refused(f"tick {fields['tick']} has not come yet; a note is on one that has")
        self._clock.send("note", f"{person.name}: {text}", fields["reset"], fields["tick"])
        return {"said": f"noted at tick {fields['tick']}"}

    def _do_back(self, person: Person, fields: dict[str, Any]) -> dict[str, Any]:
        return {"back": self.news.back(fields["reset"], fields["last"]), **fields}

    def _do_give(self, person: Person, fields: dict[str, Any]) -> None:
        other = self.people.known.get(fields["person"])
        if other is None or not other.here or other.role != PUPIL:
            raise Refused("no pupil of that number is here")
        self._hand_to(other.number)

    def _do_next(self, person: Person, fields: dict[str, Any]) -> None:
        known = self.people.known
        here = [number for number in self.crank.waiting if number in known and known[number].here]
        if not here:
            raise Refused("nobody who is here waits for the crank")
        self._hand_to(here[0])

    def _do_take(self, person: Person, fields: dict[str, Any]) -> None:
        self._hand_to(None)

    def _do_allow(self, person: Person, fields: dict[str, Any]) -> None:
        self._rate = rate_of(fields["rate"])
        self._may_reset, self._may_note = fields["reset"], fields["notes"]
        self.changed = True

    def _do_ask(self, person: Person, fields: dict[str, Any]) -> None:
        self._asked = self._bus(fields["bus"]).name if fields["bus"] else ""
        self.changed = True

    def _do_stop(self, person: Person, fields: dict[str, Any]) -> None:
        if self._lesson is None or fields["place"] >= len(self._lesson.stops):
            raise Refused("the lesson has no such stop")
        stop = self._lesson.stops[fields["place"]]
        self._place, self._asked = fields["place"], stop.ask
        self._rest()
        if self.news.state.tick <= stop.tick:
            self._clock.send("to", stop.tick, self._lesson.rate)
        else:
            self._to_stop = stop.tick, self._lesson.rate
            self._clock.send("reset")

    def _do_remove(self, person: Person, fields: dict[str, Any]) -> None:
        other = self.people.known.get(fields["person"])
        if other is None or other.teacher:
            raise Refused("nobody of that number can be sent out")
        self.people.remove(other.number)
        self.crank.leave(other.number)
        if self.crank.holder == other.number:
            self._hand_to(None)
        self.changed = True

    def _do_door(self, person: Person, fields: dict[str, Any]) -> None:
        self.open = fields["open"]
        self.changed = True

    def _do_export(self, person: Person, fields: dict[str, Any]) -> dict[str, Any]:
        return {"export": self.calls.table()}

    # What these are made of.

    def _drives(self, person: Person) -> bool:
        return person.teacher or person.number == self.crank.holder

    def _holder_name(self) -> str:
        holder = self.people.known.get(self.crank.holder or 0)
        return holder.name if holder is not None else "the teacher"

    def _hand_to(self, number: int | None) -> None:
        """Every change of hands finds the clock at rest."""
        if self.crank.give(number):
            self._rest()

    def _rest(self) -> None:
        self._to_stop = None
        self._clock.send("halt")
        self.changed = True

    def _bus(self, name: str) -> Bus:
        if name not in self._buses:
            raise UsageError(f"there is no bus {name[:20]!r}; there are {', '.join(self._buses)}")
        return self._buses[name]

    def _answer_calls(self, tick: Tick) -> None:
        if self.calls.made():
            names = {number: person.name for number, person in self.people.known.items()}
            self.calls.answer(tick.reset, tick.tick, self._buses.values(), tick.late, names)
            self.changed = True

    def _start_over(self) -> None:
        self.calls.drop()
        if self._watcher is not None:
            self._watcher.restart()
        self.changed = True

    def _lesson_told(self) -> dict[str, Any] | None:
        if self._lesson is None:
            return None
        stop = None if self._place is None else self._lesson.stops[self._place]
        told: dict[str, Any] = {
            "title": self._lesson.title,
            "stops": [each.tick for each in self._lesson.stops],
            "place": self._place,
            "say": "" if stop is None else stop.say,
            "difference": None,
        }
        if self._watcher is not None and self._watcher.difference is not None:
            tick, lines = self._watcher.difference
            told["difference"] = {"tick": tick, "lines": [list(line) for line in lines]}
        return told


def _answer_told(answer: Answer) -> dict[str, Any]:
    return {
        "tick": answer.tick,
        "bus": answer.bus,
        "value": answer.value,
        "right": answer.right,
        "tally": [list(each) for each in answer.tally],
    }
