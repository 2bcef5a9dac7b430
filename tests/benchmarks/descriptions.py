"""Reading of free-text descriptions: CPU time of 100,000 lines on one core, from a sample of random lines in five languages."""

import random
from collections.abc import Iterator
from time import process_time

from inventory.descriptions.reader import read_description
from tests.benchmarks.measures import Measure
from tests.inventory.descriptions.random_lines import LANGUAGES, random_line

LINES = 20_000
OF_LINES = 100_000
MOST_SECONDS = 60


def measures() -> Iterator[Measure]:
    dice = random.Random(1)
    lines = [random_line(dice, dice.choice(LANGUAGES)).text for _ in range(LINES)]
    read_description(lines[0])
    began = process_time()
    for line in lines:
        read_description(line)
    seconds = (process_time() - began) * OF_LINES / LINES
    yield Measure("100,000 descriptions read, CPU", "s", seconds, goal=MOST_SECONDS, judged="ours")
