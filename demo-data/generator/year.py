"""The year as it is written down: steps with their times, sorted, in one file a month."""

import json
import random

DAYS = 261
DAYS_A_MONTH = 22


def calendar(day):
    """About how many days of the calendar lie between a working day and the day of loading."""
    return round(-day * 7 / 5)


class Year:
    def __init__(self, seed):
        self.random = random.Random(seed)
        self.steps = []

    def add(self, day, minute, by, deed, body):
        """Somebody does something on a working day (-1 is the last), so many minutes after midnight."""
        assert -DAYS <= day <= -1 and 300 <= minute < 1440, (day, minute, deed)
        self.steps.append((day, int(minute), len(self.steps), {"by": by, deed: body}))

    def chance(self, probability):
        return self.random.random() < probability

    def months(self):
        """The text of each month's file."""
        texts = [[] for _ in range(12)]
        for day, minute, _, step in sorted(self.steps, key=lambda step: step[:3]):
            at = f"{day} {minute // 60:02}:{minute % 60:02}"
            line = json.dumps({"at": at, **step}, ensure_ascii=False, separators=(",", ":"))
            texts[min((day + DAYS) // DAYS_A_MONTH, 11)].append(line)
        return ["\n".join(lines) + "\n" for lines in texts]
