"""What a proposal promises of its prices: what `propose` prints, what the papers of the written design add up to, what stands
beside other designs in the client's proposal and what the app is told are one amount, at one price book, to the cent (second
way: the pack of the written job, read from its tables); proposing again changes nothing; money and number of loudspeakers
bind; a proven bound is never above a price.
"""

import csv
import io
import json
import re
import shutil
import urllib.request
import zipfile

import pytest

import papers
import tool
from test_server import Server
from whole_job_texts import ORCHARD

CAFE = tool.ROOT / "examples" / "walled-courtyard"
GUESTHOUSE = tool.ROOT / "examples" / "guesthouse-garden"

# A person's own prices: everything dearer or cheaper than the catalogue's, 8.1 % of tax.
OWN = """code,price
labour/hour,97.30
margin,22.5 %
tax,8.1 %
cable/burial-2x2.5mm2,3.17
loudspeaker/stake-110-wide,241.35
task/joint,7.77
laying/clipped,1.13
laying/slit,2.29
"""

# Two areas far from the rack on one side of a garden: their cables lie in one slit most of the way.
GARDEN = """
format = 1
[job]
name = "Long garden with two seats"
currency = "CHF"

[brief]
supply = "100 V"
laying = ["slit", "trench"]

[programmes.music]
name = "Music"

[areas.near]
name = "Near seat"
outline = [[20, 2], [26, 2], [26, 7], [20, 7]]
listeners = "seated"
target = "66 dBA"
within = "4 dB"

[areas.far]
name = "Far seat"
outline = [[34, 2], [40, 2], [40, 7], [34, 7]]
listeners = "seated"
target = "66 dBA"
within = "4 dB"

[neighbours.east]
name = "Across the lane"
points = [[75, 5]]
height = "4 m"
day = "55 dBA"

[site]
datum = "corner post"
outline = [[0, 0], [44, 0], [44, 14], [0, 14]]
ground = "lawn"

[surfaces.border]
name = "Border"
outline = [[18, 7.5], [42, 7.5], [42, 9.5], [18, 9.5]]
kind = "bed"

[racks.shed]
name = "Shed"
position = [2, 8.5]
"""


def written(folder, text, *changes):
    """A job of its own folder with pieces of its text replaced."""
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the job"
        text = text.replace(old, new)
    folder.mkdir()
    (folder / "job.toml").write_text(text)
    return folder


def asked(folder, *arguments, time="0.5s"):
    """The whole answer of a proposal, and what it says beside it."""
    done = tool.run("propose", folder, "--json", "--time", time, *arguments)
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout), done.stderr


def cheapest(folder, *arguments):
    answer, _ = asked(folder, "--option", "least-cost", *arguments)
    return answer["proposal"]


def quoted(folder, out, *arguments):
    """Net and total of a job, as its bill of quantities has them."""
    done = tool.run("pack", folder, "--out", out, "--only", "tables", *arguments)
    assert done.returncode in (0, 1), done.stderr
    rows = list(csv.reader((out / "bill-of-quantities.csv").read_text("utf-8-sig").splitlines()))
    last = {row[1]: row[-1] for row in rows}
    return last["Net"], last["Total"]


@pytest.fixture(scope="module")
def own(tmp_path_factory):
    path = tmp_path_factory.mktemp("prices") / "own.csv"
    path.write_text(OWN)
    return path


SITES = {"cafe": (CAFE / "job.toml").read_text(), "guesthouse": (GUESTHOUSE / "job.toml").read_text(), "orchard": ORCHARD, "garden": GARDEN}


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("book", [False, True], ids=["catalogue", "own"])
def test_what_is_proposed_is_what_the_papers_of_the_written_design_add_up_to(name, book, own, tmp_path):
    folder = written(tmp_path / "job", SITES[name], *([("budget = 4500", "budget = 9000")] if name == "cafe" else []))
    prices = ["--prices", own] if book else []
    proposal = cheapest(folder, "--write", *prices)
    assert proposal["failure"] is None, proposal["failure"]
    figures = proposal["options"][0]["figures"]
    net, total = quoted(folder, tmp_path / "pack", *prices)
    assert (f"{figures['net']:.2f}", f"{figures['price']:.2f}") == (net, total)
    if book:
        assert float(total) == pytest.approx(float(net) * 1.081, abs=0.006)
    # What is to be dug and cut is the bill's too.
    laid = papers.table(tmp_path / "pack" / "bill-of-quantities.csv")
    of = lambda start: sum(float(r["Quantity"]) for r in laid if r["Code"].startswith(start))
    assert figures["cable_m"] == pytest.approx(of("cable/"), abs=0.11)
    dug = of("laying/slit") + of("laying/trench") + of("laying/lifted")
    assert figures["digging_m"] == pytest.approx(dug, abs=0.16)


def written_out(price):
    """An amount as sentences and tables have it: "CHF 8 979.50"."""
    return f"CHF {price:,.2f}".replace(",", " ")


def test_the_price_is_printed_to_the_cent(tmp_path):
    folder = written(tmp_path / "job", GARDEN)
    price = cheapest(folder)["options"][0]["figures"]["price"]
    done = tool.run("propose", folder, "--time", "0.5s", "--option", "least-cost")
    assert re.search(rf"price, tax included +{re.escape(written_out(price))}", done.stdout), done.stdout


def accept(folder, design, data):
    """Takes a design over into a job's folder, as the app does it: its edit is sent. By itself it may be found no more: a search
    for several kinds comes upon designs that one for a single kind does not."""
    server = Server(data)

    def ask(path, body=None, media="application/json"):
        request = urllib.request.Request(f"{server.address}/api/jobs{path}", body, {"content-type": media})
        return urllib.request.urlopen(request).read()

    try:
        with zipfile.ZipFile(sent := io.BytesIO(), "w") as archive:
            archive.write(folder / "job.toml", "job.toml")
        job = json.loads(ask("/import", sent.getvalue(), "application/zip"))["id"]
        edit = {"edit_id": "take-the-first-design", "base_revision": 0, "patch": design["edit"]}
        ask(f"/{job}/edits", json.dumps(edit).encode())
        with zipfile.ZipFile(io.BytesIO(ask(f"/{job}/export"))) as archive:
            [name] = [n for n in archive.namelist() if n.endswith("job.toml")]
            (folder / "job.toml").write_bytes(archive.read(name))
    finally:
        server.stop()


def test_designs_side_by_side_are_priced_as_the_paper_they_stand_on(own, tmp_path):
    """Proposed at the catalogue's prices, printed with a person's own: every design on the paper is at the person's prices
    and tax. Second ways: the cheapest written into the job and packed by itself; each summed from its bill by hand."""
    answer, _ = asked(GUESTHOUSE, time="10s")
    options = answer["proposal"]["options"]
    assert len(options) > 1, "designs to stand side by side"
    listed = tmp_path / "proposal.json"
    listed.write_text(json.dumps(answer))
    folder = tmp_path / "job"
    shutil.copytree(GUESTHOUSE, folder)
    accept(folder, options[0], tmp_path / "jobs")
    _, total = quoted(folder, tmp_path / "pack", "--prices", own)
    out = tmp_path / "paper"
    done = tool.run("pack", folder, "--out", out, "--only", "proposal", "--options", listed, "--prices", own)
    assert done.returncode in (0, 1), done.stderr
    text = papers.text(out / "proposal.pdf")
    [row] = re.findall(r"Price with tax +(.+)", text)
    shown = [cell.replace(" ", "") for cell in re.findall(r"[\d ]+\.\d\d", row)]
    assert len(shown) == len(options), row
    assert shown[0] == total, "the design that is written"
    # The words stand below each other in a narrow column.
    assert re.search(r"\(this\b", text) and re.search(r"\bproposal\)", text)
    for option, amount in zip(options, shown, strict=True):
        assert float(amount) != pytest.approx(option["figures"]["price"], abs=0.01), "not the catalogue's price"
        net = sum(money(item) for item in option["bill"])
        assert float(amount) == pytest.approx(round(net * 1.081, 2), abs=0.011), "summed from its bill by hand"


def money(item):
    """An entry of a bill at the person's own prices, in whole cents by hand."""
    rows = dict(line.split(",") for line in OWN.splitlines()[3:] if "%" not in line)
    material = float(rows.get(item["code"], item["material"]))
    cents = lambda v: int(v * 100 + 0.5 + 1e-7) / 100
    return cents(cents(material * 1.225) * float(item["quantity"])) + cents(float(item["labour_h"]) * 97.30)


def test_codes_of_a_price_book_that_stand_for_nothing_are_named(tmp_path):
    book = tmp_path / "own.csv"
    book.write_text(OWN + "task/jiont,9\nloudspeaker/of-the-shop-next-door,1\n")
    folder = written(tmp_path / "job", GARDEN)
    answer, told = asked(folder, "--option", "least-cost", "--prices", book)
    done = tool.run("pack", folder, "--out", tmp_path / "pack", "--only", "tables", "--prices", book, "--json")
    for text, data in ((told, answer), (done.stderr, json.loads(done.stdout))):
        assert '"task/jiont"' in text and 'Did you mean "task/joint"?' in text, text
        assert '"loudspeaker/of-the-shop-next-door"' in text, text
        assert [u["code"] for u in data["unknown_prices"]] == ["task/jiont", "loudspeaker/of-the-shop-next-door"]


@pytest.mark.parametrize("name", SITES)
def test_proposing_again_changes_nothing(name, tmp_path):
    folder = written(tmp_path / "job", SITES[name])
    first = cheapest(folder, "--write")["options"][0]
    path = folder / "job.toml"
    # What people add to a written design stays as well: a remark, a reading.
    text = path.read_text().replace("[lines.A", "# Drawn with the gardener.\n[lines.A", 1)
    text += "\n[visits.V9]\ndate = \"2026-05-04\"\n\n[visits.V9.readings]\nm1 = { line = \"A\", dc = \"3.1 ohm\" }\n"
    path.write_text(text)
    before = path.read_bytes()
    answer, told = asked(folder, "--write", "--option", "least-cost")
    again = answer["proposal"]["options"][0]
    assert path.read_bytes() == before
    assert again["edit"] == [] and again["replaces"] == []
    assert again["figures"]["price"] == first["figures"]["price"]
    assert "has the least-cost design already" in told


def test_the_number_of_loudspeakers_binds_or_the_brief_cannot_be_met(tmp_path):
    """The cafe wants two at least: fewer are refused by that name, with the number that does; three are kept; and that three
    are allowed never makes a plan cheaper than any number does (a wider brief, the same search)."""
    wish = "[programmes.cafe]"
    text = SITES["cafe"]
    for now, louder in (('target = "62 dBA"', 'target = "66 dBA"'), ('day = "60 dBA"', 'day = "66 dBA"'),
                        ('night = "50 dBA"', 'night = "56 dBA"')):
        assert text.count(now) == 1
        text = text.replace(now, louder)
    for few, said in [(1, "One loudspeaker")]:
        none = cheapest(written(tmp_path / f"only{few}", text, (wish, f"[brief.wishes]\nat_most = {few}\n{wish}")))
        assert none["options"] and none["options"][0]["unmet"] and none["bound"] is None, "the nearest comes, marked"
        assert none["failure"]["constraint"] == {"kind": "at-most"}
        assert said in none["failure"]["sentence"]
        told = [c["sentence"] for c in none["failure"]["changes"]]
        assert any(re.fullmatch(r"At most \d loudspeakers meets it\.", t) for t in told), told
    three = cheapest(written(tmp_path / "three", text, (wish, f"[brief.wishes]\nat_most = 3\n{wish}")))
    figures = three["options"][0]["figures"]
    assert figures["loudspeakers"] + figures["subwoofers"] <= 3
    free = cheapest(written(tmp_path / "free", text))
    assert free["options"][0]["figures"]["price"] <= figures["price"] * 1.02


def test_loudspeakers_that_stay_count_among_those_allowed(tmp_path):
    pinned = "".join(
        f'[loudspeakers.P{k}]\nmodel = "stake-110-wide"\nposition = [{20 + 4 * k}, 8]\ntap = "10 W"\npinned = true\n' for k in range(3)
    )
    text = GARDEN.replace("[programmes.music]", "[brief.wishes]\nat_most = 2\n[programmes.music]") + pinned
    done = cheapest(written(tmp_path / "job", text))
    assert done["failure"]["constraint"] == {"kind": "at-most"}


def test_the_budget_binds_to_the_cent(tmp_path):
    price = cheapest(written(tmp_path / "any", GARDEN))["options"][0]["figures"]["price"]
    supply = 'supply = "100 V"'
    with_budget = lambda name, budget: written(tmp_path / name, GARDEN, (supply, f"{supply}\nbudget = {budget:.2f}"))
    enough = cheapest(with_budget("enough", price))
    assert enough["failure"] is None and enough["options"][0]["figures"]["price"] == price
    short = cheapest(with_budget("short", price - 0.01))
    assert short["failure"]["constraint"] == {"kind": "budget"}
    [over] = [u for u in short["options"][0]["unmet"] if u["constraint"] == {"kind": "budget"}]
    assert over["by"] == pytest.approx(0.01, abs=1e-6), "the design comes all the same, marked"
    assert f"costs {written_out(price)}, CHF 0.01 over the budget" in short["failure"]["sentence"]


@pytest.mark.parametrize("name", SITES)
def test_a_bound_is_never_above_a_price(name, tmp_path):
    proposal = asked(written(tmp_path / "job", SITES[name]))[0]["proposal"]
    assert proposal["options"]
    if proposal["bound"] is not None:
        # Proven of whole rows where loudspeakers are alike: any models side by side may cost less.
        alike = [o for o in proposal["options"] if o["matching"] == proposal["options"][0]["matching"]]
        for option in alike:
            assert 0 < proposal["bound"] <= min(option["choice_cost"], option["figures"]["price"])
        first = proposal["options"][0]
        # Within a tenth is wanted on gardens; an eighth is what is proven of these in half a second.
        assert first["unmet"] or proposal["bound"] >= 0.87 * first["choice_cost"], "within an eighth on gardens"


def test_a_brief_that_cannot_be_met_has_no_bound(tmp_path):
    text = SITES["cafe"].replace('night = "50 dBA"', 'night = "20 dBA"')
    proposal = cheapest(written(tmp_path / "job", text))
    # Silence alone is within that limit: no design comes, and none is promised.
    assert proposal["failure"] and not proposal["options"] and proposal["bound"] is None
    done = tool.run("propose", tmp_path / "job", "--time", "0.5s")
    assert "costs less than" not in done.stdout and "stands below" not in done.stdout


@pytest.mark.parametrize("name", SITES)
def test_no_loudspeaker_is_bought_that_the_report_would_leave_out(name, tmp_path):
    for option in asked(written(tmp_path / "job", SITES[name]))[0]["proposal"]["options"]:
        for reason in option["reasons"]:
            assert "its share within the band stays" not in reason["sentence"], reason
        for finding in option["findings"]:
            assert "adds nothing" not in finding["sentence"], finding
