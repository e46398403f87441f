"""`workbench candidates` and `workbench plan --take`, and every other kind of plan."""

import pytest

HEAD = 'schema = 1\ntitle = "Bonded plate"\ninvented = "Invented example."\nseed = 7\n'
FACTOR = (
    '[[factor]]\nname = "{name}"\nkind = "continuous"\nlow = 1\nhigh = 5\nunit = "s"\n'
    "setting_sd = 0\n"
)
LEVELS = '[[factor]]\nname = "{name}"\nkind = "categorical"\nlevels = ["a", "b", "c"]\n'
OUTCOME = '[[outcome]]\nname = "pull force"\nkind = "measured"\nunit = "N"\n'
SIZES = "worth_finding = 12\nexpected_sd = 8\n"
NAMES = ("drop", "flash-off", "press time", "force", "gap")


@pytest.fixture
def folder(tmp_path):
    def make(*, numeric=5, categories=0, parts=24, more="", sizes=SIZES):
        budget = f"[budget]\nparts = {parts}\n{more}"
        factors = "".join(FACTOR.format(name=name) for name in NAMES[:numeric])
        factors += "".join(LEVELS.format(name=f"kind {i}") for i in range(categories))
        text = HEAD + budget + factors + OUTCOME + sizes
        (tmp_path / "trial.toml").write_text(text, "utf-8")
        return tmp_path

    return make


def test_candidates_as_json(answered, folder):
    answer = answered("candidates", folder(more="runs_per_day = 8\n"))
    found = answer["candidates"]
    assert len(found) >= 3
    assert (answer["model"], answer["model_is_assumed"]) == ("second-order", True)
    (best,) = [one for one in found if one["recommended"]]
    assert best["runs"] <= 24
    assert best["days"] == best["runs"] / 8
    assert "cost_per_part" in best["cost"]["unavailable"]
    assert set(NAMES) <= set(best["detectable"])
    force = best["outcomes"]["pull force"]
    assert (force["unit"], force["worth_finding"], force["finds"]) == ("N", 12, True)
    assert best["why"]
    assert best["gives_up"]
    fraction = next(one for one in found if one["name"] == "fraction-8-centre-3")
    assert max(len(group) for group in fraction["cannot_tell_apart"]) >= 2
    assert abs(fraction["leaning"]["size"]) == pytest.approx(1)
    assert fraction["precision"]["standard_error_in_sd"] > 0
    assert {one["name"] for one in answer["left_out"]} >= {"full-32"}
    assert not (folder() / "plan.csv").exists()


def test_candidates_as_a_table(command, folder):
    said = command("candidates", folder())
    assert said.status == 0, said.err
    assert "→  fraction-16-centre-3-repeats-5" in said.out
    assert "Recommended: fraction-16-centre-3-repeats-5" in said.out
    assert "✕ 19.9\u00a0N" in said.out
    assert "--take fraction-16-centre-3-repeats-5" in said.out


def test_sd_alpha_and_chance_are_heeded(answered, folder):
    def first(*options):
        answer = answered("candidates", folder(), *options)
        return answer["candidates"][0]["detectable"]["drop"]

    usual = first()
    assert first("--sd=16") == pytest.approx(2 * usual)
    assert first("--sd=pull force=4") == pytest.approx(usual / 2)
    assert first("--chance=0.9") > usual
    assert first("--alpha=0.01") > usual
    answer = answered("candidates", folder(), "--runs-at-most=14")
    assert max(one["runs"] for one in answer["candidates"]) <= 14


def test_without_scatter_the_next_step_is_named(command, answered, folder):
    bare = folder(sizes="")
    for one in answered("candidates", bare)["candidates"]:
        assert "expected_sd" in one["detectable"]["unavailable"]
    assert "--sd" in command("candidates", bare).out
    given = answered("candidates", bare, "--sd=8")["candidates"][0]
    assert given["outcomes"]["pull force"]["finds"] is None


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--sd=pull=3"], "no measured outcome 'pull'"),
        (["--sd=-1"], "The sd of 'pull force' is '-1'"),
        (["--sd=many"], "The sd of 'pull force' is 'many'"),
        (["--alpha=1.5"], "Alpha is 1.5"),
        (["--chance=0.01"], "A chance of 0.01 was asked for at alpha 0.05"),
        (["--runs-at-most=0"], "At most 0 runs"),
        (["--seed=-1"], "The seed is -1"),
    ],
)
def test_what_candidates_refuse(command, folder, options, words):
    said = command("candidates", folder(), *options)
    assert said.status == 2
    assert words in said.err
    assert "next:" in said.err


def test_nothing_fits_is_an_answer(command, folder):
    said = command("candidates", folder(parts=5), "--json")
    assert said.status == 4
    assert "No plan fits the budget" in said.json["candidates"]["unavailable"]
    said = command("candidates", folder(parts=5))
    assert said.status == 4
    assert "larger budget" in said.out


def test_take_writes_the_plan_of_that_name(answered, folder):
    here = folder()
    found = {one["name"]: one for one in answered("candidates", here)["candidates"]}
    for name, one in found.items():
        taken = answered("plan", here, f"--take={name}")
        assert taken["plan"]["runs"] == one["runs"]
        assert taken["plan"]["kind"] == one["kind"]
        assert len((here / "plan.csv").read_text("utf-8").splitlines()) == one["runs"] + 1


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--take=full-32"], "no candidate 'full-32'"),
        (["--take=definitive-13", "--kind=full"], "were both given"),
        (["--take=definitive-13", "--blocks=2"], "--blocks says nothing to a plan that is taken"),
        (["--kind=definitive", "--runs=12"], "--runs says nothing to a plan of the kind"),
        (["--kind=full", "--extra-pairs=2"], "ask for --kind definitive"),
        (["--kind=incomplete-blocks"], "without their size"),
        (["--kind=latin-square"], "A Latin square was asked for with 5 factors"),
        (["--kind=screening", "--runs=13"], "no two-level array of 5 factors in 13 runs"),
        (["--kind=screening", "--runs=12", "--repeats=99"], "99 of 12 runs"),
        (["--runs-at-most=9"], "--take NAME"),
    ],
)
def test_what_plans_refuse(command, folder, options, words):
    here = folder()
    said = command("plan", here, *options)
    assert said.status == 2, said.out
    assert words in said.err
    assert not (here / "plan.csv").exists()


@pytest.mark.parametrize(
    ("options", "kind", "runs"),
    [
        (["--kind=screening", "--runs=12", "--centre-points=2"], "two-level screening", 14),
        (["--kind=definitive", "--extra-pairs=2"], "definitive screening", 17),
        (["--kind=fraction", "--runs=16", "--repeats=4"], "two-level fraction", 20),
        (["--kind=full", "--against-drift"], "full factorial", 32),
    ],
)
def test_further_kinds(answered, folder, options, kind, runs):
    here = folder(parts=60, sizes=SIZES)
    (here / "trial.toml").write_text(
        (here / "trial.toml")
        .read_text("utf-8")
        .replace("seed = 7", 'seed = 7\nmodel = "first-order"'),
        "utf-8",
    )
    answer = answered("plan", here, *options)["plan"]
    assert (answer["kind"], answer["runs"]) == (kind, runs)


def test_plans_of_categories_and_of_the_edges(answered, folder):
    assert (
        answered("plan", folder(numeric=0, categories=3), "--kind=latin-square")["plan"]["runs"]
        == 9
    )
    blocks = answered("plan", folder(numeric=0, categories=1), "--block-size=2")["plan"]
    assert (blocks["kind"], blocks["blocks"]) == ("incomplete blocks", 3)
    edges = answered("plan", folder(numeric=3), "--kind=box-behnken", "--centre-points=4")["plan"]
    assert edges["runs"] == 16
    mixed = folder(numeric=1, categories=3)
    assert answered("plan", mixed, "--kind=orthogonal", "--runs=18")["plan"]["runs"] == 18
