"""Time whole pytest runs side by side and put the tables into docs/speed.md.

    python benchmarks/speed.py                     # 400 pictures, 3 interleaved rounds: the table
    python benchmarks/speed.py --profile           # where the time of one picture goes, and its drawing
    python benchmarks/speed.py --few               # threads against processes, where pictures are few
    python benchmarks/speed.py --sizes 100,1000,10000   # time and memory as portfolios grow
    python benchmarks/speed.py --all --write       # all of it, into docs/speed.md

Everything runs in processes of its own, interleaved, so that a slow minute of the machine hits all alike;
figures are medians. The floor is what no checker can do without: decoding each picture once, and as many
empty test items, which are counted in a run of ours. pyperf would repeat each run in fresh processes, one
command after the other; whole runs of seconds are that already, and interleaving them counts for more.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
from pathlib import Path

from speed_corpus import BOX, DRAWN, corpus
from speed_runs import Cost, empty_run, pytest_run, timed, with_counted_items
from speed_stages import profile

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs" / "speed.md"
FEW = (24, 48, 96)
END = "<!-- end table -->"


def measured(folder: Path) -> dict[str, Cost]:
    """Run everything once, cold before warm."""
    cache = folder / "cache"
    shutil.rmtree(cache, ignore_errors=True)
    ours = ("-o", f"cache_dir={cache}", "deliverables.toml")
    header = ("-m", "deliverable_size", "-p", "no:cacheprovider", "deliverables.toml")
    runs = {
        "cold": pytest_run(*ours),
        "warm": pytest_run(*ours),
        "decode": [sys.executable, "floor.py"],
        "empty": empty_run(),
        "header": pytest_run(*header),
        "collect": pytest_run("--collect-only", "deliverables.toml"),
        "nothing": pytest_run("--collect-only", "nothing"),
        "by hand": pytest_run("-p", "no:webdeliverable", "test_by_hand.py"),
        "by hand, once": pytest_run("-p", "no:webdeliverable", "test_once.py"),
    }
    os.environ["PYTHONPATH"] = str(folder)
    return {name: timed(folder, command) for name, command in runs.items()}


def start_up(rounds: int) -> float:
    """Return what the installed plugin costs, in ms, a run in a repository without a manifest."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "test_one.py").write_text("def test_one(): pass\n")
        with_it, without = [], []
        for _ in range(max(rounds, 5) * 3):
            with_it.append(timed(folder, pytest_run()).seconds)
            without.append(timed(folder, pytest_run("-p", "no:webdeliverable")).seconds)
    return (statistics.median(with_it) - statistics.median(without)) * 1000


def table(count: int, rounds: int) -> str:
    """Return the table of the speed page for so many pictures."""
    folder = with_counted_items(corpus(count))
    results = [measured(folder) for _ in range(rounds)]
    mid = {name: statistics.median(one[name].seconds for one in results) for name in results[0]}
    busy = {name: statistics.median(one[name].busy for one in results) for name in results[0]}
    floor = mid["decode"] + mid["empty"]
    rows = [
        (
            "cold, against the floor run in sequence (decode + empty items)",
            mid["cold"] / floor,
            "0.75",
        ),
        ("warm, against the empty plugin", mid["warm"] / mid["empty"], "1.25"),
        ("warm, against cold", mid["warm"] / mid["cold"], "0.45"),
        ("cold, against the hand-written test file", mid["cold"] / mid["by hand"], "0.33"),
        (
            "cold, against the same with a fixture that decodes once",
            mid["cold"] / mid["by hand, once"],
            "",
        ),
        ("header-only selection against cold", mid["header"] / mid["cold"], "0.35"),
    ]
    lines = [
        f"| {count} pictures of {BOX[0]} x {BOX[1]}, {rounds} interleaved rounds | measured | at most |",
        "| --- | --- | --- |",
    ]
    lines += [f"| {what} | {value:.2f} | {most} |" for what, value, most in rows]
    per_image = (mid["collect"] - mid["nothing"]) / count * 1000
    lines.append(f"| `pytest --collect-only`, per image | {per_image:.2f} ms | 4 ms |")
    lines.append(
        f"| start-up cost in a repository with no manifest | {start_up(rounds):.1f} ms | 10 ms |"
    )
    seconds = ", ".join(f"{name} {value:.2f} ({busy[name]:.2f})" for name, value in mid.items())
    return "\n".join(lines) + f"\n\nSeconds on the clock (of processor time): {seconds}."


def few(rounds: int) -> str:
    """Return what cold runs of few pictures take in threads and in processes, whatever is built in."""
    folder = with_counted_items(corpus(DRAWN))
    os.environ["PYTHONPATH"] = str(folder)
    whole = (folder / "deliverables.toml").read_text().split("[[piece]]")
    lines = [
        f"| pictures, {rounds} interleaved rounds | threads, s | processes, s | of processor time |",
        "| --- | --- | --- | --- |",
    ]
    for name, worth in (("threads", 10**9), ("processes", 1)):
        text = f"from pytest_webdeliverable import bench\nbench.WORTH_PROCESSES = {worth}\n"
        (folder / f"measure_in_{name}.py").write_text(text)
    for count in FEW:
        (folder / "few.toml").write_text("[[piece]]".join(whole[: count + 1]))
        costs: dict[str, list[Cost]] = {"threads": [], "processes": []}
        for _ in range(rounds):
            for name, found in costs.items():
                options = ("-p", f"measure_in_{name}", "-p", "no:cacheprovider", "few.toml")
                found.append(timed(folder, pytest_run(*options)))
        clock = [statistics.median(one.seconds for one in found) for found in costs.values()]
        busy = [statistics.median(one.busy for one in found) for found in costs.values()]
        lines.append(
            f"| {count} | {clock[0]:.2f} | {clock[1]:.2f} | {busy[0]:.2f} and {busy[1]:.2f} |"
        )
    return "\n".join(lines)


def growth(sizes: list[int]) -> str:
    """Return time per image and peak memory for several numbers of pictures, beside the empty plugin."""
    lines = [
        "| pictures | ms each: cold | warm | empty | peak: cold | its processes too | warm | empty |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    cold_of = {}
    for count in sorted({DRAWN, *sizes}):
        folder = with_counted_items(corpus(count))
        os.environ["PYTHONPATH"] = str(folder)
        shutil.rmtree(folder / "cache", ignore_errors=True)
        ours = pytest_run("-o", f"cache_dir={folder / 'cache'}", "deliverables.toml")
        costs = cold, warm, empty = [timed(folder, run) for run in (ours, ours, empty_run())]
        each = " | ".join(f"{cost.seconds / count * 1000:.1f}" for cost in costs)
        cold_of[count] = cold.seconds / count
        lines.append(
            f"| {count:,} | {each} | {cold.peak:.0f} MB | {cold.together:.0f} MB "
            f"| {warm.peak:.0f} MB | {empty.peak:.0f} MB |"
        )
    most = max(cold_of)
    lines += [
        "",
        f"Time per image at {most:,} against {DRAWN}: {cold_of[most] / cold_of[DRAWN]:.2f}",
    ]
    lines[-1] += " (at most 1.1). Peak memory at 10,000 images: at most 300 MB."
    return "\n".join(lines)


def put(name: str, text: str) -> None:
    """Print a table, and put it into the page where that is asked for."""
    print(text, end="\n\n")
    if asked.write:
        begin = f"<!-- begin table: benchmarks/speed.py {name} -->"
        before, rest = DOCS.read_text(encoding="utf-8").split(begin)
        after = rest.partition(END)[2]
        DOCS.write_text(f"{before}{begin}\n\n{text}\n\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--count", type=int, default=DRAWN)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--sizes", default="")
    parser.add_argument("--profile", action="store_true")
    parser.add_argument("--few", action="store_true")
    parser.add_argument(
        "--all", action="store_true", help="the table, --profile, --few, --sizes 100,1000,10000"
    )
    parser.add_argument("--write", action="store_true", help="put it into docs/speed.md")
    asked = parser.parse_args()
    sizes = asked.sizes or ("100,1000,10000" if asked.all else "")
    if asked.all or not (asked.profile or asked.few or sizes):
        put("table", table(asked.count, asked.rounds))
    if asked.all or asked.profile:
        put("stages", profile(draw=asked.write))
    if asked.all or asked.few:
        put("few", few(asked.rounds))
    if sizes:
        put("growth", growth([int(size) for size in sizes.split(",")]))
