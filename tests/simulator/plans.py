"""What the crew does: lists of (kind, amount, minutes).

``wind`` sails at a true wind angle, ``heading`` motors on a heading, ``circle`` motors through so many
turns (+ to starboard) in the time given.
"""


def mixed(rng):
    orders, side, spent = [], 1, 0.0
    menu = [43, 43, 45, 60, 75, 95, 120, 140, 155]
    while spent < 360:
        angle, minutes = rng.choice(menu), rng.uniform(12, 32)
        side = -side if rng.random() < 0.75 else side
        orders.append(("wind", side * angle, minutes))
        spent += minutes
    return orders


def beating(rng):
    orders, side, spent = [], 1, 0.0
    while spent < 360:
        minutes = rng.uniform(10, 28)
        orders.append(("wind", side * rng.uniform(42, 46), minutes))
        side, spent = -side, spent + minutes
    return orders


def one_course(rng):
    return [("wind", rng.choice([-1, 1]) * rng.uniform(60, 120), 360)]


def swing(rng):
    orders = mixed(rng)
    circles = [
        ("circle", 1, rng.uniform(4, 7)),
        ("heading", rng.uniform(0, 360), 2),
        ("circle", -1, rng.uniform(4, 7)),
    ]
    at = len(orders) // 2
    return orders[:at] + circles + orders[at:]


def measured_runs(rng):
    course = rng.uniform(0, 360)
    runs = [("heading", course + 180 * (i % 2), 7) for i in range(4)]
    return runs + mixed(rng)


PLANS = {
    "mixed": mixed,
    "beating": beating,
    "one_course": one_course,
    "swing": swing,
    "measured_runs": measured_runs,
}
