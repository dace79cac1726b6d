"""Fish of other trays laid into a piece of a tray, over or under those that lie there: more ways to touch than were drawn."""

import numpy as np


def whole(tray):
    """The numbers of a tray's fish that can be taken out whole."""
    shown = set(np.unique(tray["owners"]))
    edges = (tray["owners"][0], tray["owners"][-1], tray["owners"][:, 0], tray["owners"][:, -1])
    cut = set(np.unique(np.concatenate(edges)))
    fish = enumerate(tray["fish"])
    return [i for i, one in fish if not one["touching"] and one["visible"] > 0.9 and i + 1 in shown and i + 1 not in cut]


def lay(tray, i, scales, picture, owners, fish, rng):
    """Lays fish number `i` of a tray, turned and a little larger or smaller, into a piece: its picture, owners and fish change."""
    one, side = tray["fish"][i], owners.shape[0]
    rows, columns = np.nonzero(tray["owners"] == i + 1)
    top, left = rows.min(), columns.min()
    own = np.zeros((rows.max() - top + 1, columns.max() - left + 1), bool)
    own[rows - top, columns - left] = True
    seen = tray["seen"][2 * top : 2 * top + 2 * own.shape[0], 2 * left : 2 * left + 2 * own.shape[1]]
    seen = ((seen.astype(np.float32) - 128) / scales).transpose(2, 0, 1)
    turn, size, mirror = rng.uniform(0, 2 * np.pi), np.exp(rng.normal(0, 0.1)), rng.choice([-1, 1])
    there = size * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ np.diag([1, mirror])
    # A place of the one fish comes to lie on a place of another: rim on rim as often as any on any.
    at_rim, taken = rng.random() < 0.5, owners > 0
    from_there = some_place(own, at_rim, rng)
    if taken.any() and rng.random() < 0.9:
        to_here = some_place(taken, at_rim, rng) + rng.normal(0, 1, 2)
    else:
        to_here = rng.uniform(0, side, 2)

    def back(fine):
        """Columns and rows in the other tray of each place here, `fine` places for each of an owner's."""
        y, x = (np.mgrid[0 : fine * side, 0 : fine * side] + 0.5) / fine
        moved = np.stack([x - to_here[0], y - to_here[1]]).reshape(2, -1)
        return ((np.linalg.inv(there) @ moved + from_there[:, None]) * fine - 0.5).reshape(2, fine * side, fine * side)

    here = between(own.astype(np.float32), back(1)) > 0.5
    under = rng.random() < 0.4
    if under:
        here &= ~taken
    if here.sum() < 0.25 * own.sum() * size * size:
        return
    doubled = lambda grid: grid.repeat(2, 0).repeat(2, 1).astype(np.float32)
    covers = between(doubled(own), back(2)) * ((1 - doubled(taken)) if under else 1)
    picture += covers * (np.stack([between(channel, back(2)) for channel in seen]) - picture)
    head, reach = there @ (one["head"] - (left, top) - from_there) + to_here, lambda mm: max(1.5, 0.12 * mm)
    if not under:
        for other in fish:
            other["visible"] *= 1 - near(here, other["head"], reach(other["mm"]))
    visible = 1 - near(taken, head, reach(one["mm"] * size)) if under else 1.0
    owners[here] = len(fish) + 1
    way = there @ one["way"]
    fish.append({"head": head, "way": way / np.hypot(*way), "mm": one["mm"] * size, "visible": visible})


def some_place(grid, at_rim, rng):
    """Column and row of one of its places."""
    if at_rim:
        wide = np.pad(grid, 1)
        inner = wide[:-2, 1:-1] & wide[2:, 1:-1] & wide[1:-1, :-2] & wide[1:-1, 2:]
        grid = grid & ~inner if (grid & ~inner).any() else grid
    places = np.argwhere(grid)
    return places[rng.integers(len(places))][::-1] + 0.5


def near(grid, place, reach):
    """Share of the places around one that are taken."""
    (left, top), (right, bottom) = (np.maximum(0, (place - reach).astype(int)), np.maximum(0, (place + reach).astype(int) + 1))
    about = grid[top:bottom, left:right]
    return float(about.mean()) if about.size else 0.0


def between(values, places):
    """Values at columns and rows between whole ones, zero outside."""
    wide = np.pad(values, 1)
    x, y = (np.clip(v + 1, 0, n - 1.001) for v, n in zip(places, wide.shape[::-1]))
    i, j = x.astype(int), y.astype(int)
    u, v = x - i, y - j
    upper, lower = (wide[j, i] * (1 - u) + wide[j, i + 1] * u, wide[j + 1, i] * (1 - u) + wide[j + 1, i + 1] * u)
    return (upper * (1 - v) + lower * v).astype(np.float32)
