"""The harness itself does as the runner does; each case names the runner's source file it rests on."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from running import Done, Runner


def run(runner: Runner, steps: str, *, outputs: str = "", inputs: str = "", **given: str) -> Done:
    """Run a composite action of these steps."""
    folder = runner.home / "made"
    folder.mkdir(exist_ok=True)
    text = "name: made\ndescription: made\n"
    for head, body in (("inputs", inputs), ("outputs", outputs)):
        if body:
            text += f"{head}:\n{textwrap.indent(textwrap.dedent(body), '  ')}\n"
    text += "runs:\n  using: composite\n  steps:\n" + textwrap.indent(
        textwrap.dedent(steps), "    "
    )
    (folder / "action.yml").write_text(text, encoding="utf-8")
    return runner.run(folder, **given)


def test_a_failed_step_skips_the_next_but_not_those_that_ask(runner: Runner):
    """CompositeActionHandler.cs: the status of conditions is that of the action so far."""
    done = run(
        runner,
        """\
        - {shell: bash, run: "false", id: first}
        - {shell: bash, run: "true", id: by-default}
        - {shell: bash, run: "true", id: after-failure, if: failure()}
        - {shell: bash, run: "true", id: not-cancelled, if: "!cancelled()"}
        - {shell: bash, run: "true", id: any, if: always()}
        - {shell: bash, run: "true", id: named, if: "steps.first.outcome == 'failure'"}
        """,
    )
    assert {step["id"]: step["outcome"] for step in done.steps} == {
        "first": "failure",
        "by-default": "skipped",
        "after-failure": "success",
        "not-cancelled": "success",
        "any": "success",
        "named": "skipped",
    }
    assert done.status == "failure"


def test_a_status_belongs_to_its_action(runner: Runner):
    """SuccessFunction.cs: a step inside of an action asks for the action's status, not for the job's."""
    action = runner.workspace / "inner"
    action.mkdir()
    (action / "action.yml").write_text(
        "name: a\ndescription: a\nruns:\n  using: composite\n  steps:\n"
        "    - {shell: bash, run: echo inside, id: inside}\n",
        encoding="utf-8",
    )
    workflow = runner.home / "workflow.yml"
    workflow.write_text(
        "on: push\njobs:\n  one:\n    runs-on: ubuntu-latest\n    steps:\n"
        "      - {shell: bash, run: 'false'}\n"
        "      - {uses: ./inner, if: always()}\n",
        encoding="utf-8",
    )
    done = runner.run_job(workflow, "one")
    assert done.steps[1]["inner"][0]["outcome"] == "success"
    assert done.status == "failure"


def test_outcome_and_conclusion_differ_where_a_failure_is_forgiven(runner: Runner):
    """ExecutionContext.cs, ApplyContinueOnError."""
    done = run(
        runner,
        """\
        - {shell: bash, run: exit 3, id: first, continue-on-error: true}
        - shell: bash
          id: second
          env: {SEEN: "${{ steps.first.outcome }}/${{ steps.first.conclusion }}"}
          run: echo "seen=$SEEN" >> "$GITHUB_OUTPUT"
        """,
    )
    assert done.status == "success"
    assert done.step("second")["outputs"] == {"seen": "failure/success"}
    assert done.errors()[0]["message"] == "Process completed with exit code 3."


def test_bash_gets_its_exact_flags(runner: Runner):
    """ScriptHandlerHelpers.cs: --noprofile --norc -e -o pipefail, and so no nounset."""
    done = run(
        runner,
        """\
        - shell: bash
          id: flags
          run: |
            echo "flags=$-" >> "$GITHUB_OUTPUT"
            echo "pipefail=$(shopt -o pipefail | cut -f2)" >> "$GITHUB_OUTPUT"
            echo "unset=[$NOT_SET_ANYWHERE]" >> "$GITHUB_OUTPUT"
        - {shell: bash, run: "false | true", id: piped, if: always()}
        """,
    )
    flags = done.step("flags")["outputs"]
    assert "e" in flags["flags"]
    assert "u" not in flags["flags"]
    assert (flags["pipefail"], flags["unset"]) == ("on", "[]")
    assert done.step("piped")["outcome"] == "failure"


def test_each_step_has_command_files_of_its_own(runner: Runner):
    """FileCommandManager.cs."""
    done = run(
        runner,
        """\
        - {shell: bash, id: one, run: 'echo a=1 >> "$GITHUB_OUTPUT"; echo "$GITHUB_OUTPUT" > seen'}
        - {shell: bash, id: two, run: 'test "$(cat seen)" != "$GITHUB_OUTPUT"; echo a=2 >> "$(cat seen)"'}
        - {shell: bash, id: three, run: 'echo "N=1" >> "$GITHUB_ENV"; echo /x >> "$GITHUB_PATH"'}
        - {shell: bash, id: four, run: 'echo "n=$N" >> "$GITHUB_OUTPUT"; [[ $PATH == /x:* ]]'}
        """,
    )
    assert done.status == "success", done.log
    assert done.step("one")["outputs"] == {"a": "1"}
    assert done.step("two")["outputs"] == {}
    assert done.step("four")["outputs"] == {"n": "1"}
    assert (done.env, done.path) == ({"N": "1"}, ["/x"])


def test_values_over_several_lines_end_at_their_mark(runner: Runner):
    """FileCommandManager.cs, EnvFileKeyValuePairs."""
    done = run(
        runner,
        r"""
        - {shell: bash, id: good, run: 'printf "a<<E\nx=1\n<<\n\nE\nb==c\nd=\n" >> "$GITHUB_OUTPUT"'}
        - {shell: bash, id: open, run: 'printf "a<<E\nx\n" >> "$GITHUB_OUTPUT"', if: always()}
        - {shell: bash, id: bare, run: 'printf "nothing\n" >> "$GITHUB_OUTPUT"', if: always()}
        """,
    )
    assert done.step("good")["outputs"] == {"a": "x=1\n<<\n", "b": "=c", "d": ""}
    assert done.step("open")["outcome"] == done.step("bare")["outcome"] == "failure"


def test_commands_in_both_syntaxes(runner: Runner):
    """ActionCommand.cs: the new one at the beginning of a line, the old one anywhere in it."""
    done = run(
        runner,
        r"""
        - shell: bash
          id: one
          run: |
            echo '  ::set-output name=new::1%0A2'
            echo 'text ##[set-output name=old]a%3Bb'
            echo 'text ::set-output name=not::1'
            printf 'x\r::set-output name=cr::1\n'
            echo '::error file=a%2Cb.toml,line=3,title=T%3A::100%25, a::b'
            echo '##[error]old'
            echo '::add-mask::secret' >&2
        """,
    )
    assert done.step("one")["outputs"] == {"new": "1\n2", "old": "a;b", "cr": "1"}
    first, second = done.errors()
    assert (first["file"], first["line"], first["title"]) == ("a,b.toml", "3", "T:")
    assert (first["message"], second["message"]) == ("100%, a::b", "old")
    assert done.masks == ["secret"]


def test_stopped_commands_start_again_at_the_word_only(runner: Runner):
    """ActionCommandManager.cs; it is a matter of one step."""
    done = run(
        runner,
        """\
        - shell: bash
          id: one
          run: |
            echo '::stop-commands::word'
            echo '::set-output name=a::1'
            echo '##[set-output name=b]1'
            echo '::other::'
            echo '::word::'
            echo '::set-output name=c::1'
            echo '::stop-commands::again'
        - {shell: bash, id: two, run: "echo '::set-output name=d::1'"}
        - {shell: bash, id: three, run: "echo '::stop-commands::error'"}
        """,
    )
    assert done.step("one")["outputs"] == {"c": "1"}
    assert done.step("two")["outputs"] == {"d": "1"}
    assert done.step("three")["outcome"] == "failure"


def test_commands_that_set_the_environment_are_off(runner: Runner):
    """ActionCommandManager.cs: off since 2020, but for those who opt in."""
    done = run(
        runner, "- {shell: bash, run: \"echo '::set-env name=A::1'; echo '::add-path::/x'\"}\n"
    )
    assert (done.env, done.path, done.status) == ({}, [], "failure")


def test_ten_issues_of_a_kind_are_kept_and_4096_characters_of_each(runner: Runner):
    """ExecutionContext.cs. Counted here over all steps of an action, the stricter reading."""
    done = run(
        runner,
        """\
        - {shell: bash, run: 'for i in {1..7}; do echo "::error::$i"; echo "::warning::$i"; done'}
        - {shell: bash, run: 'for i in {8..12}; do echo "::error::$i"; done'}
        - {shell: bash, run: 'echo "::notice::$(printf %05000d 0)"'}
        """,
    )
    assert [error["message"] for error in done.errors()] == [str(n) for n in range(1, 11)]
    assert done.lost == 2
    assert len(done.issues[-1]["message"]) == 4096


def test_a_summary_above_one_mebibyte_is_dropped(runner: Runner):
    """FileCommandManager.cs: 1024 KiB for each step."""
    done = run(
        runner,
        """\
        - {shell: bash, run: 'printf %01048576d 0 >> "$GITHUB_STEP_SUMMARY"'}
        - {shell: bash, run: 'printf %01048577d 0 >> "$GITHUB_STEP_SUMMARY"'}
        """,
    )
    assert [len(summary) for summary in done.summaries] == [1048576]
    assert "upload aborted" in done.errors()[0]["message"]
    assert done.status == "success"


def test_inputs_have_defaults_and_outputs_come_from_steps(runner: Runner):
    done = run(
        runner,
        """\
        - shell: bash
          id: one
          env: {A: "${{ inputs.a }}", B: "${{ inputs.b }}"}
          run: echo "ab=$A$B" >> "$GITHUB_OUTPUT"
        """,
        inputs="""\
        a: {description: a, default: x}
        b: {description: b}
        """,
        outputs="""\
        ab: {description: ab, value: "${{ steps.one.outputs.ab }}"}
        none: {description: none, value: "${{ steps.none.outputs.x || 'nothing' }}"}
        """,
        b="y",
    )
    assert done.outputs == {"ab": "xy", "none": "nothing"}


def test_a_traceback_becomes_an_issue_where_a_matcher_looks(runner: Runner):
    """OutputManager.cs, with the matcher that setup-python registers."""
    done = run(
        runner,
        """\
        - uses: actions/setup-python@5fda3b95a4ea91299a34e894583c3862153e4b97
        - shell: bash
          run: |
            echo '  File "a.py", line 3, in f'
            echo "    raise Error('x')"
        """,
    )
    assert [(error["file"], error["line"], error["message"]) for error in done.errors()] == [
        ("a.py", "3", "x")
    ]
