"""`[[shop.machine]]` tables drawn at random: every option of programs, and tools of any sizes."""
import random

KINDS = ["end mill", "ball end mill", "spot drill", "drill", "reamer", "countersink", "counterbore"]
WORDS = {
    "arcs": ["centre", "radius"], "cycles": ["written out", "G81 to G89"], "units": ["metric", "inch"],
    "unit_words": ["G20 G21", "G70 G71"], "tool_change": ["M6", "M0", "a program each"],
}


def machine(seed):
    """Text that is put behind a parameter file."""
    r = random.Random(f"machine {seed}")
    some = lambda share: r.random() < share
    lines = ["", "[[shop.machine]]", 'kind = "mill"']
    lines += [f'{key} = "{r.choice(words)}"' for key, words in WORDS.items() if some(0.6)]
    lines += [f"{key} = {r.choice(['true', 'false'])}" for key in ("line_numbers", "length_offset") if some(0.5)]
    sizes = {"spindle_min": (100, 8000), "spindle_max": (1500, 30000), "clearance": (5, 60)}
    lines += [f"{key} = {r.randint(*size)}" for key, size in sizes.items() if some(0.3)]
    if some(0.4):
        lines.append(f'feed_max = "{r.choice([90, 400, 1500, 6000])} mm"')
    if some(0.15):
        lines.append(f'travel_{r.choice("xyz")} = "{r.randint(60, 400)} mm"')
    if some(0.3):
        lines.append('before = ["G54", "M8"]\nafter = ["M9", "(lift the guard)"]')
    if some(0.25):
        lines.append("above = true")
    if some(0.25):
        lines.append(f'longest_run = "{r.randint(1, 40)} min"')
    numbers = r.sample(range(1, 40), r.randint(0, 8))
    for number in numbers:
        size = r.choice([1, 2, 3, 3.3, 4, 5, 6, 6.8, 8, 8.5, 10, 12])
        lines += ["", "[[shop.machine.tool]]", f"number = {number}", f'kind = "{r.choice(KINDS)}"', f'diameter = "{size} mm"']
    return "\n".join(lines) + "\n"
