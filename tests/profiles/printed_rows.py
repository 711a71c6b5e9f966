"""Rows that a table has to have, worked out from what a standard prints (printed_values.json) and from nothing of Rampart.

Every profile of the standards begins with 0 V for 100 ms, while the output switch closes, and ends with 0 V for 1 s. On a
supply that holds its points a change is one row. On one that runs straight between points it is two: where it begins
and where it ends, and a jump takes one least step.
"""
from decimal import Decimal

LEAD_IN_S, LEAD_OUT_S = Decimal("0.1"), Decimal(1)
HOUR_S = 3600


class Course:
    """A rail in time; `rows` are (seconds, volts, output on)."""

    def __init__(self, straight_s=None, volts=Decimal(0)):
        self.straight_s, self.time, self.volts, self.on, self.rows = straight_s, Decimal(0), volts, True, []
        self.point()

    def point(self):
        """The state now; of one instant the last one counts."""
        if self.rows and self.rows[-1][0] == self.time:
            self.rows.pop()
        self.rows.append((self.time, self.volts, self.on))

    def hold(self, seconds):
        self.time += Decimal(seconds)

    def step(self, volts):
        if self.straight_s is None:
            self.volts = Decimal(volts)
            self.point()
            return
        self.ramp(volts, self.straight_s)
        self.time -= self.straight_s  # the next statement does not wait for it

    def ramp(self, volts, seconds):
        self.point()
        self.time += Decimal(seconds)
        self.volts = Decimal(volts)
        self.point()

    def switch(self, on):
        self.on = on
        self.point()

    def end(self):
        self.step(0)
        self.hold(LEAD_OUT_S)
        self.switch(False)
        return self.rows


def windows(values, course):
    for window in values["windows_V"]:
        for volts in window:
            course.step(volts)
            course.hold(values["each_s"])


def levels(values):
    rest = Decimal(values["rest_V"])
    return ([Decimal(volts) for volts in values.get("levels_V", [])] + [rest - drop for drop in values.get("drops_V", [])] +
            [rest * percent / 100 for percent in values.get("percents", [])])


def pulses(values, course):
    course.step(values["rest_V"])
    course.hold(values["before_s"])
    for level in levels(values):
        for length in values["lengths_s"]:
            for _ in range(int(values["times"])):
                course.step(level)
                course.hold(length)
                course.step(values["rest_V"])
                course.hold(values["apart_s"])


def openings(values, course):
    course.step(values["rest_V"])
    course.hold(values["before_s"])
    for length in values["lengths_s"]:
        for _ in range(int(values["times"])):
            course.switch(False)
            course.hold(length)
            course.switch(True)
            course.hold(values["apart_s"])


def transitions(values, course):
    first, *others = values["levels_V"]
    course.step(first)
    course.hold(values["requests_s"])
    for level in others:
        course.hold(values["begins_s"])
        course.ramp(level, values["stands_s"] - values["begins_s"])
        course.hold(values["requests_s"] - values["stands_s"])


def soak(values, course):
    course.step(values["level_V"])
    course.hold(values["soak_h"] * HOUR_S)


SHAPES = {shape.__name__: shape for shape in (windows, pulses, openings, transitions, soak)}


def rows(shape, values, straight_s):
    """The rows of a shape: (seconds, volts, output on)."""
    course = Course(straight_s)
    course.hold(LEAD_IN_S)
    SHAPES[shape](values, course)
    return course.end()


def in_order(pattern):
    """Levels in their order, `times` written out."""
    order = []
    for item in pattern:
        order += int(item["times"]) * in_order(item["of"]) if isinstance(item, dict) else [item]
    return order
