"""One random evening: stars sighted, objects pushed to, faults in between, and each push judged."""

import copy
import json
import math
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from plumbstar.errors import UserError
from plumbstar.guide.aim import left_from
from plumbstar.logbook import Logbook
from plumbstar.sky.site import Site
from plumbstar.web.evening.counts import KeptCounts
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.timekeeping import Timekeeping
from plumbstar.web.live.recorder import Recorder
from plumbstar.web.live.virtual import VirtualClock, VirtualStation

from . import faults as wrong
from . import sky, sun
from .blame import Tap, blame
from .board import Board
from .claim import Claim, warnings_in
from .eye import Eye
from .faults import Event, Fault
from .hand import Hand
from .mount import Mount, apart_deg, direction
from .scene import NEAR_THE_SUN, STARS, START, TARGETS, kit_text
from .shapes import Array, Pair, Press


class Night:
    """The evening of one seed. ``only``: these faults and no others."""

    def __init__(self, seed: int, folder: Path, only: tuple[str, ...] | None = None) -> None:
        rng = self.rng = np.random.default_rng([7741, seed])
        self.folder, self.seed = folder, seed
        self.recorder: Recorder | None = None
        self.n_stars = int(rng.choice([2, 3, 4, 5], p=[0.15, 0.45, 0.3, 0.1]))
        self.n_pushes = int(rng.integers(3, 7))
        steps = self.n_stars + self.n_pushes
        self.plan = wrong.draw(rng, np.random.default_rng([7742, seed]), steps, only)
        self.mount, self.board = Mount(rng), Board(rng)
        self.true_unix = START + rng.uniform(0, 5) * 3600
        self.hand = Hand(rng, (rng.uniform(-180, 180), 88.0))
        self.claims: list[Claim] = []
        self.events: list[str] = []
        self.queue: list[Press] = []
        self.done_stars: list[str] = []
        self.done_targets: list[str] = []
        self.sighted = self.presses = 0
        self.course: list[Event] = []
        self.bad_stars: dict[str, Fault] = {}  # by the press
        self.suns: list[sun.SunClaim] = []
        self.slipping = [0.0, 0.0]
        self.pending: tuple[Fault, float] | None = None  # (fault, when it strikes)
        self.kept: KeptCounts | None = None
        # What a miss is judged by: the mount as it stood, each press in truth.
        self.mount_before, self.taps = copy.deepcopy(self.mount), dict[str, Tap]()
        kinds = {f.kind for f in self.plan.faults}
        offset = 0.0
        if "clock wrong" in kinds:
            offset = rng.choice([-1, 1]) * math.exp(rng.uniform(0, math.log(3600)))
        if "slow board" in kinds:
            self.board.interval_s = 1.0
        if "lost lines" in kinds:
            self.board.lost_share = rng.uniform(0.05, 0.6)
        self.eye, self.late = Eye(rng, seed, "rough hand" in kinds), "late presses" in kinds
        for f in self.plan.faults:
            if f.kind in wrong.WHOLE_EVENING:
                f.done, f.stars_before = True, 0
        later = np.random.default_rng([7743, seed])
        self.day: sun.Day | None = None
        self.denies = [f for f in self.plan.faults if f.kind == "says nothing moved"]
        for f in self.denies:
            f.done, f.step = False, -2  # until it is said
        if "daytime" in kinds:
            self.day = sun.Day.draw(later)
            self.true_unix = self.day.unix
            offset = self.day.computer_off_s
        self.from_zero = "counts from zero" in kinds
        in_kit = self.from_zero and bool(later.random() < 0.5)
        self.on_stop = self.from_zero and not in_kit  # told by a press, once
        if self.from_zero:
            self.hand.at = (self.hand.at[0], 90.0 + self.mount.stop_deg)
            self.board.restart(self.mount.circles(*self.hand.at))
        self.kit_text = kit_text("slow board" in kinds, in_kit)
        self.clock = VirtualClock(1000.0, float(self.true_unix + offset))
        self.site = Site(sky.LAT_DEG, sky.LON_DEG, 940.0, name="Thornback Ridge")

    # ---- time

    @property
    def now_s(self) -> float:
        return self.clock.steady_s

    def unix(self, steady_s: float | None = None) -> float:
        return self.true_unix + (self.now_s if steady_s is None else steady_s) - 1000.0

    async def up(self) -> None:
        book = Logbook.open(self.folder / "logbook.sqlite3", clock=self.clock.real_unix)
        self.station = VirtualStation(
            lambda: Evening(book, self.clock.now, site=self.site, kit_text=self.kit_text,
                            timekeeping=Timekeeping(book, self.clock, earliest=0.0)),
            self.clock,
            self.recorder,
        )  # fmt: skip
        await self.station.start()
        self.station.source.opened()

    async def down(self) -> None:
        await self.station.readings.stop()
        self.station.evening.book.close()

    async def run_to(self, end_s: float) -> None:
        """Lines, slips, faults and late presses until then."""
        board = self.board
        while True:
            t = max(self.now_s, board.next_s)
            if t > end_s:
                break
            board.next_s = t + board.interval_s * self.rng.uniform(0.9, 1.1)
            await self.station.go_to(t)
            if self.pending and t >= self.pending[1]:
                fault, self.pending = self.pending[0], None
                await self.strike(fault)
                continue
            for axis in (0, 1):
                part = math.copysign(min(abs(self.slipping[axis]), 30 * board.interval_s),
                                     self.slipping[axis])  # fmt: skip
                self.slipping[axis] -= part
                board.slipped[axis] += part
            while self.queue and self.queue[0][0] <= t:
                await self.deliver(self.queue.pop(0))
            circles = self.mount.circles(*self.hand.where(t))
            if t < board.silent_until:
                continue
            if board.lose_power_after:
                board.lose_power_after = False
                board.restart(circles)
            line = board.line(circles)
            if line:
                self.station.source.heard(line)
            if int(t) != int(t - board.interval_s):
                self.kept = self.station.readings.counts()
        await self.station.go_to(max(end_s, self.now_s))

    async def move(self, goal: Pair, careful: bool = False) -> None:
        end = self.hand.plan(self.now_s, goal, careful)
        for f in self.plan.at(self.step):
            if self.pending is None:
                f.done = True
                self.pending = (f, self.now_s + f.within * (end - self.now_s))
        await self.run_to(end + self.rng.uniform(0.5, 2))
        self.hand.arrive(self.now_s)

    # ---- faults

    async def strike(self, f: Fault) -> None:
        rng, board = self.rng, self.board
        f.stars_before = self.sighted
        if f.kind in wrong.BYTES + wrong.QUIET:
            self.course.append(Event(self.now_s, f))
        sign = rng.choice([-1, 1])
        if f.kind == "restart moving":
            board.silent_until = self.now_s + rng.uniform(0.3, 1.2)
            board.lose_power_after = True
        elif f.kind == "restart still":
            board.restart(self.mount.circles(*self.hand.where(self.now_s)))
        elif f.kind in ("silence", "power lost"):
            board.silent_until = self.now_s + rng.uniform(0.3, 30)
            board.lose_power_after = f.kind == "power lost"
            if rng.random() < 0.5:
                self.station.source.lost("the cable is out.")
                await self.run_to(board.silent_until)
                self.station.source.opened()
        elif f.kind.endswith("jumps"):
            board.slipped[f.kind.startswith("alt")] += sign * rng.uniform(1, 60)
        elif f.kind == "azimuth slips":
            self.slipping[0] = sign * math.exp(rng.uniform(0, math.log(60)))
        elif f.kind == "altitude slips":
            self.slipping[1] = sign * math.exp(rng.uniform(0, math.log(20)))
        elif f.kind == "base knocked":
            self.mount.knock(rng.uniform(-8, 8), rng.normal(0, 0.8, 2))
        elif f.kind == "clock set":
            self.clock.set_system(float(sign * math.exp(rng.uniform(3, math.log(3600)))))
        elif f.kind == "server restarted":
            kept = self.kept
            await self.station.ask(lambda e: e.counts.keep(kept))
            await self.down()
            self.clock.go_to(self.now_s + rng.uniform(1, 15))
            await self.up()
        elif f.kind in ("wrong star", "fumbled star"):
            f.done, f.stars_before = False, -1  # waits for the next star
            f.step = -1

    def waiting(self, kind: str) -> Fault | None:
        """Whether the next star is to be a wrong or a fumbled one."""
        for f in self.plan.faults:
            if f.kind == kind and f.step in (-1, self.step) and not f.done:
                f.done, f.stars_before = True, self.sighted
                return f
        return None

    # ---- what the observer does

    async def act(self, name: str, /, **body: Any) -> Any:
        try:
            return await self.station.act(name, json.dumps(body).encode())
        except UserError as e:
            self.events.append(f"{self.now_s - 1000:6.0f} s {name} {body}: refused: {e}")
            return None

    async def answer(self, name: str, /, **body: Any) -> None:
        done = await self.act(name, **body)
        for f in self.denies if done is not None else ():
            f.done, f.stars_before = True, self.sighted
            self.note("said that nothing moved")

    async def deliver(self, press: Press) -> None:
        _, name, body, tapped = press
        asked_for = self.station.evening.slips.open is not None
        done = await self.act(name, **body, ago_ms=float(self.now_s - tapped) * 1000)
        if done is not None and done.asked:
            # Centred in good faith: the observer says yes, also to a star that is another.
            self.note(f"asked about {name} {body}: yes")
            done = await self.act("answer_doubt", id=body["id"], save=True)
        if done is not None:
            self.sighted += 1
            bad = self.bad_stars.get(body["id"])
            self.course.append(Event(tapped, bad, star=True, settles=asked_for))

    async def press(self, name: str, bad: Fault | None = None, /, **body: Any) -> None:
        self.presses += 1
        body["id"] = press = f"press-{self.seed}-{self.presses:03d}"
        if bad is not None:
            self.bad_stars[press] = bad
        axles = self.hand.where(self.now_s)
        self.taps[press] = self.eye.tap(self.unix(), axles, bad is not None, self.mount)
        late = self.rng.uniform(5, 90) if self.late and self.rng.random() < 0.6 else 0.2
        last = self.queue[-1][0] if self.queue else 0.0
        self.queue.append((max(last, self.now_s + late), name, body, self.now_s))
        await self.run_to(self.now_s + 0.5)

    async def centre(self, name: str, off: Array | None = None) -> None:
        """By eye, the truth of the sky guiding the hand."""
        off = self.eye.centres(name, off)
        for careful in (False, True):
            az, alt = sky.place(name, self.unix(self.now_s + (2 if careful else 12)))
            where = direction(az + off[0] / math.cos(math.radians(alt)), alt + off[1])
            here = self.hand.where(self.now_s)
            self.hand.at = here
            await self.move(self.mount.axles_at(where, here[0]), careful)
        # The sky went on under the tube while the hand came to rest; the eye follows.
        az, alt = sky.place(name, self.unix())
        where = direction(az + off[0] / math.cos(math.radians(alt)), alt + off[1])
        here = self.hand.where(self.now_s)
        self.hand.at = self.mount.axles_at(where, here[0])
        await self.run_to(self.now_s + max(0.3, 2.2 * self.board.interval_s))

    def up_now(self, names: tuple[str, ...], low: float, high: float) -> list[str]:
        return [n for n in names if low < sky.place(n, self.unix())[1] < high]

    async def sight(self) -> None:
        rng = self.rng
        stars = [s for s in self.up_now(STARS, 15, 78) if s not in self.done_stars[-3:]]
        name = str(rng.choice(stars))
        said, off = name, None
        if bad := self.waiting("wrong star"):
            here = direction(*sky.place(name, self.unix()))
            near = sorted(
                (apart_deg(here, direction(*sky.place(s, self.unix()))), s)
                for s in self.up_now(STARS, 10, 85) if s != name
            )[:3]  # fmt: skip
            said = near[int(rng.integers(len(near)))][1]
        elif bad := self.waiting("fumbled star"):
            a = rng.uniform(0, 6.28)
            off = np.array([math.cos(a), math.sin(a)]) * math.exp(
                rng.uniform(math.log(0.5), math.log(3))
            )
        self.done_stars.append(name)
        await self.centre(name, off)
        await self.press("sight", bad, star=said)
        self.note(f"sighted {name}" + (f" and said {said}" if said != name else ""))

    def note(self, text: str) -> None:
        self.events.append(f"{self.now_s - 1000:6.0f} s {text}")

    async def wait_for_presses(self) -> None:
        while self.queue:
            await self.run_to(max(self.queue[0][0], self.now_s) + 1.5 * self.board.interval_s)

    async def picture(self) -> dict[str, Any]:
        out: dict[str, Any] = json.loads(await self.station.snapshot())
        return out

    async def push(self) -> None:
        """To an object by what the phone shows, as a hand does: until it says "in the field"."""
        rng = self.rng
        await self.wait_for_presses()
        names = TARGETS if self.day is None else NEAR_THE_SUN + TARGETS
        up = [t for t in self.up_now(names, 20, 75) if t not in self.done_targets]
        if not up:
            return
        target = str(rng.choice(up))
        self.done_targets.append(target)
        if await self.act("set_target", name=target) is None:
            return
        claimed = False
        for k in range(7):
            r = self.station.readings.latest
            aim = self.station.evening.guidance.aim
            if r.az_deg is None or r.alt_deg is None:
                return
            left = left_from(aim, r.az_deg, r.alt_deg, self.clock.now())
            if self.day is not None and k == 0:
                self.suns.append(
                    self.day.judged(target, self.unix(), left is not None, self.clock.now())
                )
            if left is None:
                self.note(f"no push to {target}")
                return
            size = math.hypot(left.right_deg, left.up_deg)
            if left.in_field and size < 0.3 * aim.field_deg:
                claimed = True
                break
            here = self.hand.where(self.now_s)
            self.hand.at = here
            goal = (here[0] + left.push_az_deg, here[1] + left.push_alt_deg)
            if not -3 <= goal[1] <= 93:
                self.note(f"push to {target} is beyond what the tube can do")
                return
            await self.move(goal, careful=k > 0)
        await self.run_to(self.now_s + 2.5 * self.board.interval_s)
        r = self.station.readings.latest
        left = left_from(aim, *r.degrees(), self.clock.now())
        claimed = claimed and left is not None and left.in_field
        tube = self.mount.tube(*self.hand.where(self.now_s))
        off = apart_deg(tube, direction(*sky.place(target, self.unix())))
        p = await self.picture()
        t = p["target"] or {}
        struck = tuple(
            (f.kind, wrong.can_be_shown(f, self.course))
            for f in self.plan.faults if f.done and f.stars_before >= 0
        )  # fmt: skip
        warned = warnings_in(p, self.station.readings.latest)
        c = Claim(target, self.now_s - 1000, t.get("hit_chance") or 0.0, claimed, off,
                  aim.field_deg, warned, self.sighted, struck)  # fmt: skip
        if c.silent and left is not None:
            short = left.push_az_deg, left.push_alt_deg
            why = blame(self, target, aim.field_deg, short, r.degrees())
            c = replace(c, blame=why.word, shown_sigmas=why.sigmas)
        self.claims.append(c)
        self.note(f"pushed to {target}: {'in' if claimed else 'not in'} the field, it says, "
                  f"{c.stated:.0%}; off {off:.2f}; warned {c.warned}")  # fmt: skip
        await self.heed(p, c)

    async def heed(self, p: dict[str, Any], c: Claim) -> None:
        """What a sensible observer does then."""
        rng = self.rng
        if p["moved"] and rng.random() < 0.8:
            await self.answer("answer_move", after=p["moved"]["after"], moved=not self.denies)
        if self.denies and p["slip"] and rng.random() < 0.5:
            await self.answer("acknowledge_slip")
        if c.warned and c.warned != ("message",):
            await self.sight()
            await self.wait_for_presses()
        elif not c.outside:
            if rng.random() < 0.6:
                await self.centre(c.target)
                await self.press("here_centred", target=c.target)
        elif rng.random() < 0.5:
            await self.act("not_in_field")
        elif rng.random() < 0.7:
            await self.sight()

    async def run(self) -> "Night":
        await self.up()
        await self.run_to(self.now_s + 3)
        if self.on_stop:
            await self.act("tube_on_stop")
        if self.day is not None:
            await self.day.prepare(self)
        for step in range(self.n_stars + self.n_pushes):
            self.step = step
            if step < self.n_stars:
                await self.sight()
            else:
                await self.push()
        await self.down()
        return self


async def one(seed: int, only: tuple[str, ...] | None = None) -> Night:
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as d:
        return await Night(seed, Path(d), only).run()
