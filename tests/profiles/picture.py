"""A small picture of the setpoints of a profile, drawn from its table: the same numbers in, the same bytes out."""
import itertools

WIDTH, HEIGHT, EDGE = 240, 72, 12
COLOURS = ("#1f77a8", "#c4581a", "#3f8f4a", "#8a5bb0")
GREY = "#8a8a8a"


def pieces(table):
    """For each rail (start, end, volts at start, volts at end) while its output is on, and where a wait is."""
    interpolation = {item["channel"]: item["interpolation"] for item in table["setup"]["channels"]}
    drawn, waits, start = {}, [], 0.0
    for segment in table["segments"]:
        if segment["segment"] == "safe":
            continue
        for rail in table["setup"]["rails"]:
            sign = -1 if rail["reversed"] else 1
            straight = interpolation[rail["channels"][0]] == "linear"
            parts = drawn.setdefault(rail["rail"], [])
            before = None
            for time, volts, on in points(segment, rail):
                if before and before[2]:
                    parts.append((start + before[0], start + time, sign * before[1], sign * (volts if straight else before[1])))
                before = (time, volts, on)
            if segment["then"] and before[2]:
                parts.append((start + before[0], start + before[0] + assumed(segment), sign * before[1], sign * before[1]))
        start += segment["duration_s"]
        if segment["then"]:
            waits.append(start)
            start += assumed(segment)
    return drawn, waits, start


def assumed(segment):
    """How long the wait after a segment is taken to be; one that the simulation measures has no width here."""
    return segment["then"].get("assume_s") or 0.0


def points(segment, rail):
    """(seconds, volts, output on) of a rail. Of an arrangement in series voltages add, in parallel they are one."""
    last, found = {}, []
    for row in segment["rows"]:
        if row["channel"] in rail["channels"]:
            last[row["channel"]] = row
            if len(last) == len(rail["channels"]):
                volts = [item["voltage_V"] for item in last.values()]
                if found and found[-1][0] == row["time_s"]:
                    found.pop()
                found.append((row["time_s"], volts[0] if rail["arrangement"] == "parallel" else sum(volts), row["output"]))
    return found


def path(parts, place):
    """One line through parts that join. Of the points in one column the first, the lowest, the highest and the last are kept."""
    points_in_turn = [point for start, end, low, high in parts for point in (place(start, low), place(end, high))]
    kept = []
    for _, column in itertools.groupby(points_in_turn, key=lambda point: point[0]):
        column = list(column)
        kept += [column[0], min(column, key=lambda point: point[1]), max(column, key=lambda point: point[1]), column[-1]]
    return "M " + " ".join("%g %g" % point for point, _ in itertools.groupby(kept))


def joined(parts):
    """Parts in groups without a gap: the output is on all the time."""
    groups = []
    for part in parts:
        if groups and groups[-1][-1][1] == part[0]:
            groups[-1].append(part)
        else:
            groups.append([part])
    return groups


def picture(table, end_text):
    drawn, waits, duration = pieces(table)
    levels = [level for parts in drawn.values() for part in parts for level in part[2:]] + [0.0]
    low, high = min(levels), max(levels)

    def place(time, volts):
        x = EDGE + round(time / duration * (WIDTH - 2 * EDGE))
        y = EDGE + round(2 * (high - volts) / (high - low) * (HEIGHT - 2 * EDGE)) / 2
        return (x, y)

    zero = "%g" % place(0.0, 0.0)[1]
    lines = ['<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d">' % (WIDTH, HEIGHT, WIDTH, HEIGHT),
             '<path d="M %d %s H %d" stroke="%s" stroke-width="0.5"/>' % (EDGE, zero, WIDTH - EDGE, GREY)]
    for wait in sorted(set(waits)):
        lines.append('<path d="M %g %d V %d" stroke="%s" stroke-width="0.5" stroke-dasharray="2 2"/>'
                     % (place(wait, low)[0], EDGE, HEIGHT - EDGE, GREY))
    for at, parts in enumerate(drawn.values()):
        course = " ".join(path(group, place) for group in joined(parts))
        lines.append('<path d="%s" fill="none" stroke="%s" stroke-width="1.5"/>' % (course, COLOURS[at % len(COLOURS)]))
    extreme = high if high >= -low else low
    lines += ['<g font-family="sans-serif" font-size="9" fill="%s">' % GREY,
              '<text x="%d" y="9">%s V</text>' % (EDGE, "%g" % float(extreme)),
              '<text x="%d" y="%d" text-anchor="end">%s</text>' % (WIDTH - EDGE, HEIGHT - 2, end_text), "</g>", "</svg>"]
    return "\n".join(lines) + "\n"
