"""What stands on a page of a PDF file: runs of letters as they were set. No checks here."""

MM = 25.4 / 72
# Capitals of DejaVu Sans are 1493 of 2048 units high.
CAPITALS = 1493 / 2048


def lines_of_text(page):
    """Runs of letters in one line, as they were set: text, height of capitals, ink box in mm."""
    runs = []
    for c in page.chars:
        m = c["matrix"]
        last = runs[-1] if runs else None
        box = [c["x0"] * MM, c["top"] * MM, c["x1"] * MM, c["bottom"] * MM]
        upright = abs(m[1]) < 1e-6
        # A letter's box is as high as the font's size, whatever way it is turned.
        size = box[3] - box[1] if upright else box[2] - box[0]
        near = last and last["upright"] == upright and (
            abs(last["base"] - m[5]) < 1e-3 and -1 < (c["x0"] - last["end"]) < 0.2
            if upright
            else abs(last["base"] - m[4]) < 1e-3 and abs(last["far"] - c["bottom"]) < 1.0
        )
        if near:
            last["text"] += c["text"]
            last["box"] = [
                min(last["box"][0], box[0]), min(last["box"][1], box[1]),
                max(last["box"][2], box[2]), max(last["box"][3], box[3]),
            ]
            last["end"], last["far"] = c["x1"], c["top"]
        else:
            runs.append({
                "text": c["text"], "box": box, "upright": upright, "end": c["x1"], "far": c["top"],
                "base": m[5] if upright else m[4], "size": size,
            })
    return [r for r in runs if r["text"].strip()]


def ink(run):
    """The box of capitals and descenders within the font's box (ascent 0.928, descent 0.236)."""
    x0, y0, x1, y1 = run["box"]
    s = run["size"]
    if run["upright"]:
        base = y1 - 0.236 * s
        return x0, base - CAPITALS * s, x1, base + 0.2 * s
    base = x1 - 0.236 * s
    return base - CAPITALS * s, y0, base + 0.2 * s, y1
