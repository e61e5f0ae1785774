"""How checks/notices.py reads licence expressions (the SPDX specification 2.3, annex D, and the slash of older manifests) and which
licence files it keeps, on invented packages; and that every licence something is taken under is one that deny.toml lets in.
"""

import tomllib

import pytest

from notices import Package, crates, kept, taken
from tool import ROOT

MIT = "MIT License\n\nCopyright (c) 2020 {who}\n\nPermission is hereby granted, free of charge, to any person.\n"


@pytest.mark.parametrize(
    ("expression", "licences"),
    [
        ("MIT", ["MIT"]),
        ("MIT OR Apache-2.0", ["Apache-2.0"]),
        ("Apache-2.0/MIT", ["Apache-2.0"]),
        ("(MIT OR Apache-2.0) AND Unicode-3.0", ["Apache-2.0", "Unicode-3.0"]),
        ("Unlicense OR MIT", ["Unlicense"]),
        ("MIT AND BSD-3-Clause", ["MIT", "BSD-3-Clause"]),
        ("Apache-2.0 WITH LLVM-exception OR Apache-2.0 OR MIT", ["Apache-2.0"]),
    ],
)
def test_of_a_choice_the_one_that_asks_least(expression, licences):
    assert taken(expression) == licences


def test_a_choice_within_a_choice_is_refused():
    with pytest.raises(SystemExit):
        taken("MIT OR (Apache-2.0 AND ISC)")


def package(folder, name, licence, **files):
    (folder / name).mkdir()
    for file, text in files.items():
        (folder / name / file.replace("_", "-")).write_text(text)
    return Package(name, "1.0.0", licence, folder / name)


def test_one_text_for_all_that_share_it_with_every_name(tmp_path):
    page = "\n".join(kept([
        package(tmp_path, "alpha", "MIT", LICENSE=MIT.format(who="Alpha's authors")),
        # Other line ends and no title: the same words.
        package(tmp_path, "beta", "MIT", LICENSE=MIT.format(who="Beta's authors").split("\n\n", 1)[1].replace("\n", "\r\n")),
        package(tmp_path, "gamma", "MIT OR Apache-2.0", LICENSE_MIT=MIT.format(who="Gamma's authors"), LICENSE_APACHE="Apache License"),
    ]))
    assert page.count("Permission is hereby granted") == 1
    assert "alpha 1.0.0: Copyright (c) 2020 Alpha's authors" in page
    assert "beta 1.0.0: Copyright (c) 2020 Beta's authors" in page
    # Taken under Apache-2.0, whose text is this project's own LICENSE-APACHE.
    assert "gamma" not in page


def test_both_files_of_two_licences_are_kept(tmp_path):
    both = package(tmp_path, "delta", "(MIT OR Apache-2.0) AND Unicode-3.0", LICENSE_MIT=MIT.format(who="Delta"),
                   LICENSE_UNICODE="UNICODE LICENSE V3\n\nCopyright 2020 Delta\n\nNOTICE TO USER\n")
    page = "\n".join(kept([both]))
    assert "NOTICE TO USER" in page and "Permission is hereby" not in page


def test_what_has_no_licence_file_is_named(tmp_path):
    assert "epsilon 1.0.0, MIT: names nobody" in "\n".join(kept([package(tmp_path, "epsilon", "MIT")]))


def test_every_licence_is_one_that_may_come_in():
    allowed = set(tomllib.loads((ROOT / "deny.toml").read_text())["licenses"]["allow"])
    # A choice of nothing to keep stands for the other word of the same choice.
    found = {(licence, p.licence) for p in crates() for licence in p.taken}
    assert len(found) > 10
    assert {pair for pair in found if pair[0] not in allowed and not any(word in pair[1] for word in allowed)} == set()
