"""The simulation against ngspice, circuit by circuit.

usage: ngspice_test.py RAMPART [unittest arguments]

With the variable RAMPART_AGREEMENT set, the agreement found is added to that file, see agreement_table.py."""
import os
import sys
import unittest

import linear_cases
import nonlinear_cases
import output_cases
import plant

CASES = linear_cases.CASES + nonlinear_cases.CASES + output_cases.CASES
ABSOLUTE = 1e-12  # below it nothing is left of the quantity


def record(case, relative, seconds):
    path = os.environ.get("RAMPART_AGREEMENT")
    if path:
        with open(path, "a", encoding="utf-8") as table:
            print("ngspice", case.name, f"{relative:.3g}", f"{seconds:.3g}", sep="\t", file=table)


class Ngspice(unittest.TestCase):
    def compare(self, case):
        """Times to within steps of ngspice, all else relatively."""
        worst, worst_time = 0.0, 0.0
        for ours, theirs in zip(plant.by_rampart(PROGRAM, case), plant.by_ngspice(case), strict=True):
            self.assertEqual(set(ours), set(theirs), "one of the two trips, the other does not")
            for quantity, value in ours.items():
                apart = abs(value - theirs[quantity])
                if quantity.endswith("(s)"):
                    worst_time = max(worst_time, apart)
                    self.assertLessEqual(apart, case.steps_of_time * case.step, quantity)
                elif apart > ABSOLUTE:
                    worst = max(worst, apart / abs(theirs[quantity]))
                    self.assertLessEqual(apart, case.within * abs(theirs[quantity]), quantity)
        record(case, worst, worst_time)


def add_test(number, case):
    def test(self):
        with self.subTest(case.name, because=case.because):
            self.compare(case)

    setattr(Ngspice, f"test_{number:02}", test)


for number, case in enumerate(CASES):
    add_test(number, case)

if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    unittest.main()
