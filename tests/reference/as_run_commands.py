#!/usr/bin/env python3
"""Random profiles and logs of players that did not send what the table has: the sequence has to fail, and the response has to
be judged by what was sent. It passes where the device is as the load file says, and fails where it draws another current.

usage: as_run_commands.py RAMPART [COUNT [FIRST SEED]]

Courses are those of as_run_pairs.py, in closed form, of the setpoints that were sent."""
import json
import os
import sys

from as_run_pairs import Pair, evaluate

SENT, ACTED, ACKNOWLEDGED = 0.0005, 0.0015, 0.002  # s, after the planned time


class Played(Pair):
    """A pair whose log has commands, some of which are not those of the table."""

    def plant(self):
        super().plant()
        self.kind = self.dice.choice(("clean", "load"))
        self.shift, self.clock = round(self.dice.uniform(0.3, 3), 4), 0.0
        if self.kind == "load":
            amps = self.rail.top / (self.rail.ohm + self.rail.wire)
            band = self.supply_volts[0] * amps + self.supply_volts[1] * amps / self.rail.top + self.meter_amps[0] * amps
            self.size = 1 + 4 * (band + self.meter_amps[1] + self.noise) / amps

    def sent(self, rail):
        """(planned time, volts) of its commands."""
        dice, rows = self.dice, rail.stairs()[1:]
        for _ in range(dice.choice((1, 2, 3)) if rail is self.rail else 0):
            # What was changed stays.
            k = dice.choice([i for i, row in enumerate(rows) if row in rail.stairs()])
            what = dice.choice(("value", "missing", "extra"))
            time, volts = rows[k]
            other = round(max(0.1, volts * dice.choice((0.8, 0.9, 1.1))) + 0.05, 3)
            if what == "value":
                rows[k] = (time, other)
            elif what == "missing" and k > 0 and rows[k - 1][1] != volts:
                del rows[k]
            else:
                rows.insert(k + 1, (time + 0.004, other))
        return rows

    def log(self):
        dice, columns, lines = self.dice, [], []
        for number, rail in enumerate(self.rails):
            is_it = rail is self.rail
            rows = self.sent(rail)
            off = self.allowed()
            points = [(0.0, 0.0)] + [(time + ACTED, volts) for time, volts in rows]
            load = self.size if is_it and self.kind == "load" else 1
            course = rail.course(points, (off * self.supply_volts[0], off * self.supply_volts[1]), load, self.seconds + 3)
            columns.append((rail, course, (self.allowed() * 0.9, self.allowed() * 0.9)))
            for time, volts, more in [(0.0, 0.0, "4,1")] + [(time, volts, ",") for time, volts in rows]:
                begin = self.shift + time
                lines.append((begin + ACKNOWLEDGED, number, "%.6f,command,1,s.ch%d,,,%.3f,%s,%.6f,%.6f,%.6f," % (
                    begin + ACKNOWLEDGED, number + 1, volts, more, time, begin + SENT, begin + ACKNOWLEDGED)))
        time = -0.8 * self.shift
        while time < self.seconds + 0.5:
            for number, (rail, course, meter) in enumerate(columns):
                volts, amps = course.means(time - dice.uniform(0, self.latency), self.window)
                volts += meter[0] * (self.meter_volts[0] * volts + self.meter_volts[1]) + dice.uniform(-1, 1) * self.noise
                amps += meter[1] * (self.meter_amps[0] * amps + self.meter_amps[1]) + dice.uniform(-1, 1) * self.noise
                at = self.shift + time
                lines.append((at, number, "%.6f,reading,1,s.ch%d,%.5f,%.5f,,,,,,," % (at, number + 1, volts, amps)))
            time += self.interval
        end = self.shift + self.seconds + 0.6
        lines.append((end, 0, "%.6f,event,1,,,,,,,,,,end" % end))
        lines.sort(key=lambda line: line[:2])
        header = "time_s,kind,segment,channel,measured_V,measured_A,set_V,set_A,output,planned_s,sent_s,acked_s,text"
        return header + "\n" + "\n".join(text for _, _, text in lines) + "\n"


def judge(program, seed):
    """What is wrong with the verdicts; nothing where they are right."""
    played = Played(seed)
    done = evaluate(program, played.files())
    if done.returncode != 1:
        return played.kind, "exit code %d: %s" % (done.returncode, done.stderr[-300:])
    answer = json.loads(done.stdout)["as_run"]
    expected = ("fail", "pass" if played.kind == "clean" else "fail")
    found = (answer["sequence"]["verdict"], answer["response"]["verdict"])
    reasons = "%s; %s" % (answer["sequence"]["reason"], answer["response"]["reason"])
    return played.kind, "" if found == expected else "%s instead of %s: %s" % (found, expected, reasons)


def main():
    program = os.path.abspath(sys.argv[1])
    count, first = (int(sys.argv[2]) if len(sys.argv) > 2 else 40), (int(sys.argv[3]) if len(sys.argv) > 3 else 1)
    tried, wrong = {}, 0
    for seed in range(first, first + count):
        kind, problem = judge(program, seed)
        tried[kind] = tried.get(kind, 0) + 1
        if problem:
            wrong += 1
            print("seed %d, %s: %s" % (seed, kind, problem))
    print("%d runs: %s; %d wrong" % (count, ", ".join("%d %s" % (tried[kind], kind) for kind in sorted(tried)), wrong))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
