"""The client goes out as one script and one style sheet a page; the sources keep to what the packing can take."""

from __future__ import annotations

import gzip
import os
import re
import signal

import brotli
import pytest
from django.test import override_settings

from shops.site import compress, modules, pack

FRONTEND = pack.FRONTEND


def test_every_module_of_the_client_is_in_one_of_the_packs():
    """A source that nothing imports is dead, and one outside the discipline fails here with its file and line."""
    packed = {module.name for entry in ("app.js", "record.js") for module in modules.load(FRONTEND / "js", entry)}
    assert packed == {path.relative_to(FRONTEND / "js").as_posix() for path in (FRONTEND / "js").rglob("*.js")}


def test_every_style_sheet_of_the_client_is_named_by_a_page():
    pages = "".join(path.read_text() for path in FRONTEND.glob("*.html"))
    assert set(re.findall(r"/static/(css/[\w-]+\.css)", pages)) == {
        path.relative_to(FRONTEND).as_posix() for path in FRONTEND.rglob("*.css")
    }


@pytest.fixture
def write(tmp_path):
    """Return a way to write a folder of modules and load it by its "app.js"."""

    def write(**sources):
        for name, text in sources.items():
            (tmp_path / f"{name}.js").write_text(text)
        return modules.load(tmp_path, "app.js")

    return write


def test_what_is_needed_stands_before_what_needs_it(write):
    order = write(
        app='import { a } from "./one.js";\na();\n',
        one='import { b } from "./two.js";\nexport const a = () => b;\n',
        two="export const b = 2;\n",
    )
    assert [module.name for module in order] == ["two.js", "one.js", "app.js"]


@pytest.mark.parametrize(("line", "renamed"), [('t("open the shop");', False), ("open();", True), ('f("open");', True)])
def test_a_name_that_a_module_may_mean_otherwise_is_another_beside_the_modules(write, line, renamed):
    """What is said to people means nothing to the script; a name of the browser's does."""
    order = write(
        app='import { open } from "./one.js";\nimport "./two.js";\nopen();\n',
        one="export const open = () => 1;\n",
        two=f"{line}\n",
    )
    assert ("open$" in modules.join(order)) is renamed


@pytest.mark.parametrize(
    ("source", "line"),
    [
        ("export default 3;\n", 1),
        ("\nexport let a = 3;\n", 2),
        ("const a = 1;\n\nexport { a };\n", 3),
        ("/**\n * import of nothing\n */\nconst a = import('./one.js');\n", 4),
        ("import one from './one.js';\n", 1),
        ("import { a } from 'elsewhere';\n", 1),
        ("// export default is not written here\nawait 3;\n", 2),
        ("const here = import.meta.url;\n", 1),
        ("function a() {}\n  export function b() {}\n", 2),
    ],
)
def test_a_form_that_cannot_be_joined_is_named_by_file_and_line(write, source, line):
    with pytest.raises(modules.Unjoinable, match=rf"^app\.js:{line}: "):
        write(app=source, one="export const a = 3;\n")


def test_a_ring_a_missing_file_and_a_missing_name_are_told(write):
    with pytest.raises(modules.Unjoinable, match=r"ring: app\.js → one\.js → app\.js"):
        write(app='import { a } from "./one.js";\n', one='import { b } from "./app.js";\nexport const a = 1;\n')
    with pytest.raises(modules.Unjoinable, match=r"app\.js imports none\.js"):
        write(app='import { a } from "./none.js";\n')
    with pytest.raises(modules.Unjoinable, match=r"app\.js: one\.js exports no b"):
        write(app='import { b } from "./one.js";\n', one="export const a = 1;\n")


@pytest.mark.parametrize("second", ["const { b } = two(a);", "let [b] = two(a);", "const {b} = two({ ...a });"])
def test_shortening_leaves_what_happens_in_its_order(second):
    """A declaration that takes a value apart needs the plain one before it."""
    [short] = pack.shortened([("js", f"(() => {{ const a = one(); {second} three(a, b); }})();")])
    assert short.index("one(") < short.index("two(") < short.index("three(")


ADDRESS = re.compile(rb'/pack/((index|record)\.[0-9a-f]{16}\.(js|css))')


@pytest.mark.parametrize("page", ["/", "/record"])
def test_a_page_names_one_script_and_one_style_sheet(client, page):
    named = [found[1].decode() for found in ADDRESS.finditer(client.get(page).content)]
    assert sorted(name.rpartition(".")[2] for name in named) == ["css", "js"]
    for name in named:
        answer = client.get(f"/pack/{name}")
        assert answer.status_code == 200
        kind = {"js": "text/javascript", "css": "text/css"}[name.rpartition(".")[2]]
        assert answer["Content-Type"] == f"{kind}; charset=utf-8"
        assert "immutable" in answer["Cache-Control"]
        again = client.get(f"/pack/{name}", headers={"if-none-match": answer["ETag"]})
        assert (again.status_code, again.content, again["ETag"]) == (304, b"", answer["ETag"])


@pytest.mark.parametrize("address", ["/", "/record", "/worker.js", "/pack/index.0000000000000000.js"])
def test_a_file_goes_out_as_the_browser_can_read_it(client, address):
    """Decoded by the libraries of RFC 7932 and RFC 1952, all three are the same text."""
    plain = client.get(address)
    assert "Content-Encoding" not in plain
    for name, accept, decode in (("br", "gzip, deflate, br", brotli.decompress), ("gzip", "gzip", gzip.decompress)):
        answer = client.get(address, headers={"accept-encoding": accept})
        assert answer["Content-Encoding"] == name
        assert "Accept-Encoding" in answer["Vary"]
        assert len(answer.content) < len(plain.content)
        assert decode(answer.content) == plain.content


@pytest.mark.parametrize(
    ("accept", "encoding"),
    [
        ("", "identity"), ("br", "br"), ("gzip, br;q=0", "gzip"), ("br;q=0.0, gzip; q=0", "identity"), ("*", "br"),
        ("gzip;q=0.5, *;q=0", "gzip"), ("deflate", "identity"), ("identity", "identity"), ("BR", "br"),
    ],
)  # fmt: skip
def test_what_a_browser_accepts_is_read_as_the_standard_says(rf, accept, encoding):
    """RFC 9110, section 12.5.3: a weight of 0 refuses, * stands for what is not named."""
    assert compress.wanted(rf.get("/", headers={"accept-encoding": accept})) == encoding


def test_a_page_of_an_earlier_version_gets_todays_script_but_may_not_keep_it(client):
    answer = client.get("/pack/index.0123456789abcdef.js")
    assert (answer.status_code, answer["Cache-Control"]) == (200, "no-store")
    assert client.get("/pack/nothing.0123456789abcdef.js").status_code == 404


def test_developers_see_a_changed_source_at_once_and_modules_by_themselves(client, tmp_path, monkeypatch):
    for name, text in {
        "worker.js": "",
        "js/app.js": 'import { a } from "./a.js";\na();\n',
        "js/a.js": "export const a = () => document.title;\n",
        "js/record.js": "",
        "css/one.css": "a { color: red; }",
        **{
            f"{page}.html": f'<link rel="stylesheet" href="/static/css/one.css">\n'
            f'<script type="module" src="/static/js/{script}.js"></script>\n'
            for page, script in (("index", "app"), ("record", "record"))
        },
    }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    monkeypatch.setattr(pack, "FRONTEND", tmp_path)
    monkeypatch.setattr(pack, "_made", {})
    monkeypatch.setattr(pack, "_made_from", [])
    with override_settings(DEBUG=True):
        before = client.get("/").content
        (tmp_path / "css/one.css").write_text("a { color: blue; }")
        after = client.get("/").content
        assert b"/static/js/app.js" in client.get("/?modules").content
    assert before != after
    assert b"/static/js/app.js" not in client.get("/?modules").content


def test_a_worker_forked_after_a_packing_can_pack_again(tmp_path):
    """A server may load the service and fork then; the shortener must not hang in the worker."""
    pack.make(FRONTEND)
    child = os.fork()
    if child == 0:
        signal.alarm(60)
        (tmp_path / "made").write_text(str(len(pack.make(FRONTEND))))
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert (tmp_path / "made").read_text() == str(len(pack.make(FRONTEND)))
