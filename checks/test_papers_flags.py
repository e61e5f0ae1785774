"""What a firm changes about its papers: parts, paper, units, letterhead, every word, options side by side, the QR code.

Source of the method: poppler-utils for text, pages and pictures; zxing-cpp reads the QR code (ISO/IEC 18004) as a
telephone would. Sizes of paper: ISO 216 and ANSI/ASME Y14.1 (from memory).
"""

import atexit
import json
import re
import struct
import subprocess
import tomllib
import xml.etree.ElementTree
import zlib
from decimal import ROUND_HALF_UP, Decimal

import papers
import pytest
import tool
from whole_job_made import folder

atexit.register(papers.remove)
JOB = "guesthouse-garden"
MM_PER_POINT = 25.4 / 72


def refused(*flags):
    done = tool.run("pack", papers.folder(JOB), "--out", papers.FOLDER / "refused", *flags)
    assert done.returncode == 2
    return done.stderr


def written(name, text):
    path = papers.FOLDER / name
    path.write_bytes(text) if isinstance(text, bytes) else path.write_text(text)
    return path


def files(folder):
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


# ---- parts, paper, units ----


def test_only_writes_the_parts_that_are_asked_for():
    everything = files(papers.packed(JOB))
    parts = {
        "proposal": {"proposal.pdf"},
        "quotation": {"quotation.pdf"},
        "crew": {"crew-pack.pdf"},
        "as-built": {"as-built.pdf"},
        "before-work": {"before-work.pdf"},
        "work-plan": {"plan-of-work.pdf"},
        "electrical": {"electrical-notes.pdf"},
        "certificate": {"handover-certificate.pdf"},
        "guide": {"client-guide.pdf"},
        "service": {"service-sheet.pdf"},
        "labels": {"labels.pdf", "labels.csv"},
        "drawings": {file for file in everything if file.endswith(".svg")},
        "tables": {file for file in everything if file.endswith(".csv")} - {"labels.csv"},
        "data": {"pack.json"},
    }
    assert set().union(*parts.values()) == everything
    for part in ["quotation", "as-built", "before-work", "work-plan", "electrical", "certificate", "guide", "service", "labels", "drawings", "tables", "data"]:
        assert files(papers.packed(JOB, "--only", part)) == parts[part]
    assert files(papers.packed(JOB, "--only", "quotation,data")) == parts["quotation"] | parts["data"]
    error = refused("--only", "plans")
    assert all(part in error for part in parts), error


@pytest.mark.parametrize(
    ("paper", "size"), [("A4", (210, 297)), ("A3", (297, 420)), ("letter", (215.9, 279.4)), ("tabloid", (279.4, 431.8))]
)
def test_every_page_has_the_size_of_the_paper(paper, size):
    out = papers.packed(JOB, "--only", "crew,drawings", "--paper", paper)
    info = papers.poppler("pdfinfo", "-f", 1, "-l", 999, out / "crew-pack.pdf")
    found = re.findall(r"size:\s+([\d.]+) x ([\d.]+) pts", info)
    assert found
    for sides in found:
        sides = [float(side) * MM_PER_POINT for side in sides]
        assert all(abs(a - b) < 0.2 for a, b in zip(sorted(sides), size)), sides
    # A plan at true size: its drawing has the millimetres its sheet says, and fits on the paper.
    plan = xml.etree.ElementTree.parse(out / "drawings" / "plan.svg").getroot()
    width, height = (float(plan.get(side).removesuffix("mm")) for side in ("width", "height"))
    assert max(width, height) < max(size) and min(width, height) < min(size)
    assert f" on {paper.title()}." in papers.text(out / "crew-pack.pdf").replace("A4.", "A4.")


def test_paper_that_is_not_there_is_refused_with_those_that_are():
    assert "A4, A3, Letter and Tabloid" in refused("--paper", "A5")


def test_american_units_leave_no_metre_on_the_crews_sheets():
    text = papers.text(papers.packed(JOB, "--only", "crew", "--units", "us") / "crew-pack.pdf")
    assert not re.search(r"\d\s?(m|mm|cm|kg|m³)\b|metre", re.sub(r"\d+ mm(,| with)", "", text))
    assert re.search(r"\d ft \d+( \d/\d)? in", text) and re.search(r"\d\scu\syd, \d+ bags", text) and "1 in = 20 ft" in text
    # A garden whose places no two fixed marks give, with a hole to dig and gravel to buy.
    out = papers.FOLDER / "garden-in-feet"
    assert tool.run("pack", folder("garden"), "--out", out, "--units", "us", "--only", "crew,quotation").returncode in (0, 1)
    crew, quotation = (papers.flowing(out / pdf) for pdf in ("crew-pack.pdf", "quotation.pdf"))
    assert "No two fixed marks" in crew and "Gravel for drainage" in quotation
    assert not re.search(r"\b(cm|metres?)\b", crew + quotation)


# ---- the firm ----


def png():
    """A red square of eight points, PNG (ISO/IEC 15948), made by hand."""
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = (b"\0" + b"\xc0\x30\x20" * 8) * 8
    head = struct.pack(">IIBBBBB", 8, 8, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


FIRM = """name = "Example Grounds"
lines = ["12 Example Lane", "Anytown", "+00 000 000"]
opening = "We measured your garden in May."
closing = "We look forward to the first evening."
terms = ["Valid for 60 days.", "A third with the order."]
server = "https://jobs.example/j/"
logo = "logo.png"
"""


@pytest.fixture(scope="module")
def firm():
    written("logo.png", png())
    return papers.packed(JOB, "--firm", written("firm.toml", FIRM))


def test_the_firms_name_letterhead_and_wording_are_on_its_papers(firm):
    for pdf in papers.PDFS:
        for page in papers.pages(firm / pdf):
            assert "Example Grounds" in page
        pictures = papers.poppler("pdfimages", "-list", firm / pdf).splitlines()[2:]
        assert any(re.search(r"\s8\s+8\s", picture) for picture in pictures), f"{pdf} has no logo"
    proposal, quotation = papers.flowing(firm / "proposal.pdf"), papers.flowing(firm / "quotation.pdf")
    for text in ["12 Example Lane", "We measured your garden in May.", "We look forward to the first evening."]:
        assert text in proposal, text
    assert "Thank you for showing us round" not in proposal
    for text in ["12 Example Lane", "Valid for 60 days.", "A third with the order."]:
        assert text in quotation, text


def test_a_strange_key_or_a_missing_logo_is_refused():
    assert "firm2.toml" in (error := refused("--firm", written("firm2.toml", 'nmae = "x"\n'))) and "nmae" in error
    assert "nowhere.png" in refused("--firm", written("firm3.toml", 'name = "x"\nlogo = "nowhere.png"\n'))


def test_a_price_book_replaces_prices_margin_and_tax():
    book = "code;price;remark\nloudspeaker/stake-110-wide;200,00;spring list\nlabour/hour;60\nmargin;10 %\ntax;8,5 %\n"
    rows = papers.table(papers.packed(JOB, "--only", "tables", "--prices", written("prices.csv", book)) / "bill-of-quantities.csv")
    bill = {row["Code"]: row for row in rows if row["Code"]}
    stake = bill["loudspeaker/stake-110-wide"]
    assert stake["Price of one"] == "220.00"
    material = Decimal(stake["Quantity"]) * Decimal("220.00")
    assert Decimal(stake["Amount"]) == material + Decimal(stake["Labour, h"]) * 60
    sums = {row["Description"]: Decimal(row["Amount"]) for row in rows if not row["Code"]}
    assert sums["Tax"] == (sums["Net"] * Decimal("0.085")).quantize(Decimal("0.01"), ROUND_HALF_UP)
    error = refused("--prices", written("broken.csv", "code,price\ncable/x,cheap\n"))
    assert "broken.csv" in error and "line 2" in error and "cheap" in error


# ---- the QR code ----


def square_code(pdf):
    """What the QR code of a paper's first page says, read from its picture."""
    import zxingcpp
    from PIL import Image

    stem = papers.FOLDER / f"page-{pdf.parent.name}"
    subprocess.run(["pdftoppm", "-r", "150", "-f", "1", "-l", "1", "-singlefile", "-png", pdf, stem], check=True)
    codes = zxingcpp.read_barcodes(Image.open(f"{stem}.png"))
    assert [code.format for code in codes] == [zxingcpp.BarcodeFormat.QRCode]
    return codes[0].text


def test_the_square_code_opens_the_job_on_the_firms_server(firm):
    assert square_code(firm / "as-built.pdf") == "https://jobs.example/j/GG-26-014"


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_without_a_server_the_square_code_holds_the_readings(name):
    lines = square_code(papers.packed(name) / "as-built.pdf").splitlines()
    expected = json.loads(tool.run("expect", papers.folder(name), "--json").stdout)["lines"]
    assert papers.job(name)["job"]["reference"] in lines[0]
    read = dict(line.split(": ", 1) for line in lines[1:] if ": " in line)
    assert read and list(read) == list(expected)[: len(read)]
    assert len(read) == len(expected) or lines[-1] == "..."
    for line, text in read.items():
        at_rack = {r["frequency_hz"]: r["ohm"] for r in expected[line]["readings"] if r["place"] == "rack"}
        for meter, hertz in [("DC", 0.0), ("1 kHz", 1000.0)]:
            printed = float(re.search(rf"{meter} ([\d.]+)", text)[1])
            assert hertz not in at_rack or abs(printed / at_rack[hertz] - 1) < 0.006, (line, meter)


# ---- language ----

LETTERS = r"[^\W\d_]+"


def marked(toml):
    """The shipped language file with zz before every word; names in braces, keys and the language's own name stay."""
    def words(text):
        return re.sub(rf"\{{\w+\}}|{LETTERS}", lambda m: m[0] if m[0].startswith("{") else "zz" + m[0], text)

    lines = []
    for line in toml.splitlines():
        key, equals, value = line.partition(" = ") if re.match(r'[\w "-]+ = ', line) else ("", "", line)
        if not line.startswith(("#", "[", "language")):
            value = re.sub(r'"((?:[^"\\]|\\n|\\.)*)"', lambda m: '"' + "\\n".join(map(words, m[1].split("\\n"))) + '"', value)
        lines.append(key + equals + value)
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def shipped():
    return tool.run("language").stdout


def texts(value):
    """Every text in a document, keys too: what a job or a catalogue says in its own words."""
    if isinstance(value, dict):
        for key, entry in value.items():
            yield key
            yield from texts(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from texts(entry)
    elif isinstance(value, str):
        yield value


# Letters of buried services are the same in every language.
UNITS = [*"m mm ft in kg lb V W A Hz kHz dB dBA ms s EUR AWG x".split(), *"EGTWDI"]


@pytest.mark.parametrize("name", papers.EXAMPLES)
def test_every_word_on_every_page_comes_from_the_language_file(name, shipped):
    file = marked(shipped)
    assert len(re.findall("zz", file)) > 1000 and tomllib.loads(file)["language"] == "en"
    out = papers.packed(name, "--language", written("marked.toml", file))
    own = {word for text in texts(papers.job(name)) for word in re.findall(LETTERS, text)} | set(UNITS)
    # Codes of the bill are the price book's keys, the same in every language.
    bill = papers.table(next(out.glob("zzbill*.csv")))
    own |= {word for row in bill for word in re.findall(LETTERS, row["zzCode"])}
    found = files(out)
    assert all(file.split("/")[0].startswith(("zz", "drawings")) for file in found), found
    read = [papers.text(out / file) for file in found if file.endswith(".pdf")]
    read += [(out / file).read_text(encoding="utf-8-sig") for file in found if file.endswith(".csv")]
    for file in found:
        if file.endswith(".svg"):
            root = xml.etree.ElementTree.parse(out / file).getroot()
            read += ["".join(e.itertext()) for e in root.iter() if e.tag.rsplit("}")[-1] in ("text", "title", "desc")]
    words = {word for text in read for word in re.findall(LETTERS, text)}
    strange = {word for word in words if not word.lower().startswith("zz")} - own
    assert not strange, f"not from the language file: {sorted(strange)}"
    assert sum(word.lower().startswith("zz") for word in words) > 300


def test_a_language_file_must_keep_every_key_and_every_number(shipped):
    error = refused("--language", written("short.toml", shipped.replace('north = "N"\n', "")))
    assert "plan.north" in error and "short.toml" in error
    error = refused("--language", written("lost.toml", shipped.replace("Page {number} of {count}", "Page {number}")))
    assert "page.number" in error and "count" in error


# ---- options side by side ----


def test_options_stand_side_by_side_with_their_prices():
    options = {
        "options": [
            {"name": "Even", "summary": "five more", "price": "18400.50", "evenness_db": 2.1, "chosen": True},
            {"name": "Lean", "price": "12900.00", "neighbour_margin_db": 4.2, "cable_m": 210.0},
        ]
    }
    out = papers.packed(JOB, "--only", "proposal", "--options", written("options.json", json.dumps(options)))
    text = papers.text(out / "proposal.pdf")
    assert re.search(r"Even \(this proposal\)\s+Lean", text)
    assert re.search(r"Price with tax\s+EUR 18 400\.50\s+EUR 12 900\.00", text)
    assert "within 2.1 dB" in text and "4 dB below the limit" in text and "210.0 m" in text
    assert 2 <= len(papers.pages(out / "proposal.pdf")) <= 6


def test_options_are_taken_as_propose_prints_them(tmp_path):
    """A job whose design was written by `propose --write` is marked among the options that `propose --json` prints."""
    job = tmp_path / "job"
    job.mkdir()
    (job / "job.toml").write_text((papers.folder("walled-courtyard") / "job.toml").read_text())
    done = tool.run("propose", job, "--json", "--write", "--option", "least-cost", "--time", "0.5s")
    assert done.returncode in (0, 1), done.stderr
    printed = json.loads(done.stdout)
    design = printed["proposal"]["options"][0]
    one = written("one.json", done.stdout)
    out = papers.FOLDER / "proposed"
    refusal = tool.run("pack", job, "--out", out, "--options", one)
    assert refusal.returncode == 2 and "one design" in refusal.stderr
    # The same answer twice, once under other names and with the hours of its bill doubled, as three options of a larger
    # garden would stand.
    other = json.loads(json.dumps(design)) | {"kinds": ["balanced", "most-even"]}
    for item in other["bill"]:
        item["labour_h"] = str(2 * Decimal(item["labour_h"]))
    printed["proposal"]["options"].append(other)
    two = written("two.json", json.dumps(printed))
    done = tool.run("pack", job, "--out", out, "--only", "proposal,tables", "--options", two)
    assert done.returncode in (0, 1), done.stderr
    text = papers.text(out / "proposal.pdf")
    assert re.search(r"Least cost \(this proposal\)\s+Balanced and Most even", text)
    sums = {row["Description"]: row["Amount"] for row in papers.table(out / "bill-of-quantities.csv")}
    total = sums["Total"]
    prices = tomllib.loads((tool.ROOT / "catalogue" / "prices.toml").read_text())["prices"]
    hour, tax = Decimal(str(prices["labour_per_hour"])), Decimal(prices["tax"].removesuffix(" %")) / 100
    cents = lambda d: d.quantize(Decimal("0.01"), ROUND_HALF_UP)
    more = sum(cents(hour * Decimal(i["labour_h"])) - cents(hour * Decimal(i["labour_h"]) / 2) for i in other["bill"])
    net = Decimal(sums["Net"]) + more
    dear = f"{net + cents(net * tax):,}".replace(",", " ")
    assert f"{float(total):.2f}" == f"{design['figures']['price']:.2f}"
    assert re.search(rf"Price with tax\s+EUR {float(total):,.2f}".replace(",", " ") + rf"\s+EUR {dear}\b", text)
