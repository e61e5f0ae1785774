"""Reads the Rust files of a crate as far as the house check needs: its modules and whose names each file takes.

A name counts where it is defined, not where it is passed on: `use super::Point` through a `mod.rs` that re-exports
`Point` leads to the file that holds `Point`. Test code (`#[cfg(test)]`) is left out. Methods are not seen: they are
called through a value, and the file that gave the value its type is seen.
"""

import re

TOKEN = re.compile(
    r"""//[^\n]*|/\*.*?\*/                                  # comments
    |b?r(\#*)".*?"\1|b?"(?:\\.|[^"\\])*"                    # strings
    |b?'(?:\\.[^']*|[^'\\])'                                # characters
    |'\w+                                                   # lifetimes
    |\$?[A-Za-z_]\w*|\d[\w.]*?(?=\.\.|[^\w.]|$)|::|->|=>|\S""",
    re.DOTALL | re.VERBOSE,
)
TEXT = re.compile(r"""b?(r?\#*"|'.*')""", re.DOTALL)
WORD = re.compile(r"\$?[A-Za-z_]\w*$")
HERE = {"crate", "$crate", "super", "self"}
DEFINING = {"fn", "struct", "enum", "trait", "type", "const", "static", "union"}


def tokens(text):
    """Words and signs of a file, without comments; strings and characters become `""`."""
    out = []
    for match in TOKEN.finditer(text):
        piece = match.group()
        if piece.startswith(("//", "/*")):
            continue
        out.append('""' if TEXT.match(piece) else piece)
    return out


def closing(code, start):
    """Place of the bracket that closes the one at `start`."""
    depth = 0
    for i in range(start, len(code)):
        depth += (code[i] in "([{") - (code[i] in ")]}")
        if depth == 0:
            return i
    return len(code) - 1


def item_end(code, start):
    """Place after the item that starts here: its block, or its semicolon."""
    i = start
    while i < len(code):
        if code[i] in "([":
            i = closing(code, i)
        elif code[i] == "{":
            i = closing(code, i)
            # `use a::{b, c};` ends with its semicolon.
            return i + 2 if code[i + 1 : i + 2] == [";"] else i + 1
        elif code[i] == ";":
            return i + 1
        i += 1
    return i


def without_tests(code):
    """The tokens that are not under `#[cfg(test)]`."""
    out, i = [], 0
    while i < len(code):
        if code[i : i + 7] == ["#", "[", "cfg", "(", "test", ")", "]"]:
            i += 7
            while code[i : i + 2] == ["#", "["]:
                i = closing(code, i + 1) + 1
            i = item_end(code, i)
        else:
            out.append(code[i])
            i += 1
    return out


def use_leaves(code, i, path):
    """Pairs (full path, name it goes by here) of a use tree, and the place after it. `*` stands for everything."""
    leaves = []
    while i < len(code):
        if code[i] == "{":
            i += 1
            while code[i] != "}":
                more, i = use_leaves(code, i, path)
                leaves += more
                i += code[i] == ","
            return leaves, i + 1
        if code[i] == "*":
            return [(path, "*")], i + 1
        if not WORD.match(code[i]):
            i += 1
            continue
        path = path + [code[i]]
        i += 1
        if code[i : i + 1] == ["::"]:
            i += 1
            continue
        if path[-1] == "self":
            path = path[:-1]
        if code[i : i + 1] == ["as"]:
            return [(path, code[i + 1])], i + 2
        return [(path, path[-1] if path else "self")], i
    return leaves, i


def paths(code):
    """Every path of two or more words, as lists of words."""
    i = 0
    while i < len(code) - 2:
        if not WORD.match(code[i]) or code[i + 1] != "::":
            i += 1
            continue
        path = [code[i]]
        while i + 2 < len(code) and code[i + 1] == "::" and WORD.match(code[i + 2]):
            path.append(code[i + 2])
            i += 2
        if len(path) > 1:
            yield path
        i += 1


class Module:
    """A module of a crate: what it defines, what it brings into scope, and in which file."""

    def __init__(self, path, file):
        self.path, self.file = path, file
        self.items, self.children, self.imports, self.globs = set(), {}, {}, []
        self.by_macro = []
        self.code = []


class Crate:
    """The modules of a crate, from its root file (`lib.rs` or `main.rs`) down."""

    def __init__(self, root):
        self.macros, self.modules, self.files = {}, [], {}
        self.root = self.load([], root, root.parent)

    def load(self, path, file, folder):
        """Reads the file of a module; its children lie in `folder`."""
        raw = tokens(file.read_text())
        code = without_tests(raw)
        self.files[file] = code
        module = self.module(path, file, folder, code)
        # Modules that a macro declares: files beside the others whose name the macro is given.
        declared = {raw[i + 1] for i in range(len(raw) - 1) if raw[i] == "mod"} | {"lib", "main", "mod"}
        for other in sorted(folder.glob("*.rs")):
            name = other.stem
            if name not in declared and name in module.code and other not in self.files:
                module.children[name] = self.load(path + [name], other, folder / name)
                module.by_macro.append(name)
        return module

    def module(self, path, file, folder, code):
        """Reads a module whose tokens are at hand."""
        module = Module(path, file)
        self.modules.append(module)
        depth, i = 0, 0
        while i < len(code):
            word, following = code[i], code[i + 1] if i + 1 < len(code) else ""
            if word == "mod" and depth == 0 and WORD.match(following):
                inside = folder / following
                if code[i + 2] == ";":
                    beside = folder / f"{following}.rs"
                    source = beside if beside.exists() else inside / "mod.rs"
                    module.children[following] = self.load(path + [following], source, inside)
                    i += 3
                else:
                    end = closing(code, i + 2)
                    block = code[i + 3 : end]
                    module.children[following] = self.module(path + [following], file, inside, block)
                    i = end + 1
                continue
            if word == "use" and (i == 0 or code[i - 1] in (";", "}", "{", "]", "pub", ")")):
                public = i > 0 and code[i - 1] in ("pub", ")")
                leaves, i = use_leaves(code, i + 1, [])
                for full, name in leaves:
                    if name == "*":
                        module.globs.append(full)
                    elif name != "_":
                        module.imports[name] = (full, public)
                continue
            if word == "macro_rules" and following == "!":
                self.macros[code[i + 2]] = file
            elif word in DEFINING and depth == 0 and WORD.match(following):
                module.items.add(code[i + 2] if word == "const" and following == "fn" else following)
            depth += (word in "([{") - (word in ")]}") if len(word) == 1 else 0
            module.code.append(word)
            i += 1
        return module

    def parent(self, module):
        """The module above."""
        at = self.root
        for name in module.path[:-1]:
            at = at.children[name]
        return at

    def start(self, module, path):
        """Where a path that starts at `crate`, `super` or `self` starts, and what is left of it."""
        at, rest = module, list(path)
        while rest and rest[0] in HERE:
            word = rest.pop(0)
            at = self.root if word.endswith("crate") else self.parent(at) if word == "super" else at
        return at, rest

    def find(self, module, path, seen=()):
        """The file that holds what a path names, and its name there; `None` for modules and what is not of this crate."""
        at, rest = self.start(module, path)
        named = len(rest) < len(path)
        for i, name in enumerate(rest):
            key = (id(at), name)
            # A module and a function may share a name: a path that ends there means what is not a module.
            also = i == len(rest) - 1 and (name in at.items or name in at.imports)
            if name in at.children and not also:
                at, named = at.children[name], True
                continue
            if name in at.items:
                return at.file, name
            if name in at.imports and key in seen:
                return None
            if name in at.imports:
                full, _ = at.imports[name]
                if full[0] not in HERE and full[0] not in at.children:
                    return None  # a name from another crate
                found = self.module_at(at, full, (*seen, key))
                if found is None:
                    return self.find(at, full, (*seen, key))
                at, named = found, True
                continue
            for full in at.globs if key not in seen else ():
                source = self.module_at(at, full, (*seen, key))
                found = self.find(source, ["self", *rest[i:]], (*seen, key)) if source else None
                if found and found[1] == name and found[0] != at.file:
                    return found
            if name in self.macros:
                return self.macros[name], name
            # A name that a macro makes: it is of the file that the path led to.
            return (at.file, name) if named else None
        return None

    def module_at(self, module, path, seen=()):
        """The module a path names, or `None`."""
        at, rest = self.start(module, path)
        for name in rest:
            if name in at.children:
                at = at.children[name]
            elif name in at.imports and (id(at), name) not in seen:
                at = self.module_at(at, at.imports[name][0], (*seen, (id(at), name)))
            else:
                return None
            if at is None:
                return None
        return at

    def arrows(self):
        """File -> file -> the names that the first takes from the second."""
        out = {}

        def draw(module, path):
            found = self.find(module, path)
            if found and found[0] != module.file:
                out.setdefault(module.file, {}).setdefault(found[0], set()).add(found[1])

        for module in self.modules:
            words = set(module.code)
            for name in module.by_macro:
                out.setdefault(module.file, {}).setdefault(module.children[name].file, set()).add(name)
            for name, (full, public) in module.imports.items():
                # What is only passed on is not used here.
                if not public or name in words:
                    draw(module, full)
            for full in module.globs:
                source = self.module_at(module, full)
                names = set().union(source.items, source.imports) if source else ()
                for name in sorted(words.intersection(names)):
                    draw(module, [*full, name])
            for path in paths(module.code):
                if path[0] in HERE or path[0] in module.children or path[0] in module.imports:
                    draw(module, path)
            for i, word in enumerate(module.code[:-1]):
                if word in self.macros and module.code[i + 1] == "!":
                    draw(module, ["self", word])
        return out


def circles(arrows):
    """Sets of files that reach each other, each sorted, in order of their first file (Tarjan, without recursion)."""
    index, low, on, stack, out = {}, {}, set(), [], []
    for start in sorted(arrows):
        if start in index:
            continue
        work = [(start, iter(sorted(arrows.get(start, ()))))]
        index[start] = low[start] = len(index)
        stack.append(start)
        on.add(start)
        while work:
            node, following = work[-1]
            for target in following:
                if target not in index:
                    index[target] = low[target] = len(index)
                    stack.append(target)
                    on.add(target)
                    work.append((target, iter(sorted(arrows.get(target, ())))))
                    break
                if target in on:
                    low[node] = min(low[node], index[target])
            else:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[node])
                if low[node] == index[node]:
                    part = []
                    while True:
                        part.append(stack.pop())
                        on.discard(part[-1])
                        if part[-1] == node:
                            break
                    if len(part) > 1:
                        out.append(sorted(part))
    return sorted(out)
