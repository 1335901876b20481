"""Everything seen of one or many courses, as columns. A course is one athlete's history in one lift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.profiles.bounds import MOST_KG, MOST_M_S, NotPlausible
from barwright.analysis.profiles.evidence import MAX_SD
from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class CourseColumns:
    """What was seen of one course, in any order; days are ordinals.

    Points: point_day, load_kg, velocity (m/s, the luck of the best of several taken off), u (m/s), all (n,).
    Maxima: max_day, max_kg, max_sd (relative). Attempts: try_day, try_kg, try_made.
    """

    point_day: Ints
    load_kg: Floats
    velocity: Floats
    u: Floats
    max_day: Ints
    max_kg: Floats
    max_sd: Floats
    try_day: Ints
    try_kg: Floats
    try_made: NDArray[np.bool_]

    def until(self, day: int) -> CourseColumns:
        """What was seen up to a day, it included."""
        points, maxima, tries = self.point_day <= day, self.max_day <= day, self.try_day <= day
        return CourseColumns(
            self.point_day[points], self.load_kg[points], self.velocity[points], self.u[points],
            self.max_day[maxima], self.max_kg[maxima], self.max_sd[maxima],
            self.try_day[tries], self.try_kg[tries], self.try_made[tries],
        )  # fmt: skip


def columns_of(
    points: Sequence[LoadVelocityPoint],
    maxima: Sequence[MeasuredMax] = (),
    attempts: Sequence[Attempt] = (),
    max_sd: float = MAX_SD,
) -> CourseColumns:
    """Columns of one course from its points, maxima and attempts; max_sd stands for a maximum without u (relative)."""
    return CourseColumns(
        np.array([p.day for p in points], dtype=np.int64),
        np.array([p.load_kg for p in points], dtype=np.float64),
        np.array([(p.velocity.value or 0.0) - p.luck for p in points], dtype=np.float64),
        np.array([p.velocity.u or 0.0 for p in points], dtype=np.float64),
        np.array([m.day for m in maxima], dtype=np.int64),
        np.array([m.load_kg for m in maxima], dtype=np.float64),
        np.array([max_sd if m.u_kg is None else max(m.u_kg / m.load_kg, 0.001) for m in maxima], dtype=np.float64),
        np.array([a.day for a in attempts], dtype=np.int64),
        np.array([a.load_kg for a in attempts], dtype=np.float64),
        np.array([a.made for a in attempts], dtype=np.bool_),
    )


def point_columns(day: Ints, load_kg: Floats, velocity: Floats, u: Floats) -> CourseColumns:
    """Columns of one course from arrays of points alone, (n,) each. Raises NotPlausible for what cannot be true."""
    for member, values, most in (("load_kg", load_kg, MOST_KG), ("velocity", velocity, MOST_M_S)):
        bad = ~((values > 0) & (values <= most))
        if bad.any():
            where = int(np.argmax(bad))
            raise NotPlausible(f"{member}/{where}", f"{values[where]:g}; above 0 and at most {most:g} is right")
    if not (u >= 0).all():
        raise NotPlausible("u", "0 or more is right")
    none, ints = np.zeros(0), np.zeros(0, dtype=np.int64)
    return CourseColumns(day, load_kg, velocity, u, ints, none, none, ints, none, np.zeros(0, dtype=np.bool_))


@dataclass(frozen=True, slots=True)
class Joined:
    """Many courses end to end, a row for each day of each course.

    course (rows,): which one; day (rows,); first, last (courses,): its rows. *_row say which row a column belongs to,
    point_course which course. heaviest_log (rows,): log of the day's heaviest point in kg, -inf without. Points are in
    order of rows; busy are the rows with points and starts where those of each begin; begun and opening, of courses.
    """

    course: Ints
    day: Ints
    first: Ints
    last: Ints
    point_row: Ints
    load_kg: Floats
    velocity: Floats
    u: Floats
    max_row: Ints
    max_log: Floats
    max_sd: Floats
    try_row: Ints
    try_log: Floats
    try_made: NDArray[np.bool_]
    heaviest_log: Floats
    point_course: Ints
    busy: Ints
    starts: Ints
    begun: Ints
    opening: Ints

    def by_row(self, values: Floats) -> Floats:
        """Sums of values of points, for each row."""
        out = np.zeros(len(self.day))
        if len(self.busy):
            out[self.busy] = np.add.reduceat(values, self.starts)
        return out

    def of_course(self, values: Floats) -> Floats:
        """Sums of values of points, for each course."""
        out = np.zeros(len(self.first))
        if len(self.begun):
            out[self.begun] = np.add.reduceat(values, self.opening)
        return out

    def by_course(self, values: Floats) -> Floats:
        """Sums of values of rows, for each course."""
        return np.asarray(np.add.reduceat(values, self.first), dtype=np.float64)


def join(courses: Sequence[CourseColumns]) -> Joined:
    """Put courses end to end. Raises ValueError for a course of which nothing was seen."""
    days, rows, offset = [], [], 0
    for k, one in enumerate(courses):
        seen = np.concatenate([one.point_day, one.max_day, one.try_day])
        if not len(seen):
            raise ValueError(f"courses/{k}: nothing seen; one made rep with a velocity, or one maximum, is the least")
        unique, row = np.unique(seen, return_inverse=True)
        days.append(unique)
        rows.append(row + offset)
        offset += len(unique)
    lengths = np.array([len(d) for d in days])
    last = np.cumsum(lengths) - 1
    points = [len(one.point_day) for one in courses]
    to_max = [p + len(one.max_day) for p, one in zip(points, courses, strict=True)]
    point_row = np.concatenate([r[:p] for r, p in zip(rows, points, strict=True)])
    order = np.argsort(point_row, kind="stable")
    point_row = point_row[order]
    load = np.concatenate([one.load_kg for one in courses])[order]
    busy, starts = np.unique(point_row, return_index=True)
    heaviest_log = np.full(offset, -np.inf)
    if len(busy):
        heaviest_log[busy] = np.log(np.maximum.reduceat(load, starts))
    course = np.repeat(np.arange(len(courses)), lengths)
    begun, opening = np.unique(course[point_row], return_index=True)
    return Joined(
        course=course,
        day=np.concatenate(days),
        first=last - lengths + 1,
        last=last,
        point_row=point_row,
        load_kg=load,
        velocity=np.concatenate([one.velocity for one in courses])[order],
        u=np.concatenate([one.u for one in courses])[order],
        max_row=np.concatenate([r[p:m] for r, p, m in zip(rows, points, to_max, strict=True)]),
        max_log=np.log(np.concatenate([one.max_kg for one in courses])),
        max_sd=np.concatenate([one.max_sd for one in courses]),
        try_row=np.concatenate([r[m:] for r, m in zip(rows, to_max, strict=True)]),
        try_log=np.log(np.concatenate([one.try_kg for one in courses])),
        try_made=np.concatenate([one.try_made for one in courses]),
        heaviest_log=heaviest_log,
        point_course=course[point_row],
        busy=busy,
        starts=starts,
        begun=begun,
        opening=opening,
    )
