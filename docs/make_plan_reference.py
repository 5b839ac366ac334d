"""Write docs/plan.md, every key of plan.toml, from the fields that check a plan."""  # noqa: INP001

from __future__ import annotations

from pathlib import Path

from simulator.plan import PlanKey, plan_reference

HEAD = """\
# Every key of plan.toml

Made from the code by `python docs/make_plan_reference.py`. `walkhome new DIR` writes the same as a
plan to edit. Keys without a default must be given. Unknown keys are refused, with a suggestion.
Files are taken relative to the plan. Weather takes its five constants, or a file.
"""


def cell(text: str) -> str:
    """Make a text safe inside a table of Markdown."""
    return text.replace("|", "\\|").replace("\n", " ")


def row(key: PlanKey) -> str:
    """Write one key as a line of the table."""
    name = key.key.rsplit(".", maxsplit=1)[-1]
    allowed = f"{key.kind} [{key.unit}]" if key.unit else key.kind
    return f"| `{name}` | {cell(allowed)} | {cell(key.default)} | {cell(key.meaning)} |"


def render() -> str:
    """Write the whole page.

    Returns
    -------
    str
        Markdown.
    """
    lines = [HEAD]
    heading = None
    for key in plan_reference():
        table = key.key.split(".")[0] if "." in key.key else ""
        if table != heading:
            heading = table
            title = f"\n## [{table}]" if table else "## At the top"
            lines += [
                title,
                "",
                "| key | allowed | default | meaning |",
                "| --- | --- | --- | --- |",
            ]
        lines.append(row(key))
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    (Path(__file__).parent / "plan.md").write_text(render(), encoding="utf-8")
