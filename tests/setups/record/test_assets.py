"""What a PDF's text may fetch: the named files of the project, and nothing else, whatever the markup asks for."""

from __future__ import annotations

import socket
import threading

import pytest
from weasyprint import CSS, HTML
from weasyprint.css.tokens import InvalidValues
from weasyprint.urls import FatalURLFetchingError

from setups.record import pdf

pytestmark = pytest.mark.pdf
SECRET = "plum-anvil-0417"


@pytest.fixture
def listening():
    """Listen at a port of this machine, and note whoever connects."""
    server, came = socket.create_server(("127.0.0.1", 0)), []
    server.settimeout(0.2)
    done = threading.Event()

    def wait():
        while not done.is_set():
            try:
                came.append(server.accept()[1])
            except TimeoutError:
                continue

    thread = threading.Thread(target=wait)
    thread.start()
    yield server.getsockname()[1], came
    done.set()
    thread.join()
    server.close()


HOSTILE = (
    "<img src='{}'>",
    "<object data='{}'></object>",
    "<embed src='{}'>",
    "<link rel=stylesheet href='{}'>",
    "<link rel=attachment href='{}'>",
    "<style>@import url('{}');</style>",
    "<style>@font-face {{ font-family: x; src: url('{}') }} p {{ font-family: x }}</style><p>x</p>",
    "<p style=\"background: url('{}')\">x</p>",
    "<p style=\"content: url('{}')\">x</p>",
    "<svg xmlns='http://www.w3.org/2000/svg'><image href='{}' width='9' height='9'/></svg>",
    "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink'><use xlink:href='{}#a'/></svg>",
    "<base href='{}'><img src='x.svg'>",
)


def addresses(folder, port):
    secret = folder / "secret.svg"
    secret.write_text(f"<svg xmlns='http://www.w3.org/2000/svg'><text>{SECRET}</text></svg>")
    return [
        secret.as_uri(),
        str(secret),
        f"../../../../../../../..{secret}",
        f"http://127.0.0.1:{port}/x.svg",
        f"//127.0.0.1:{port}/x.svg",
        f"http://localhost:{port}/../x.css",
        f"ftp://127.0.0.1:{port}/x",
        f"data:image/svg+xml,<svg xmlns='http://www.w3.org/2000/svg'><text>{SECRET}</text></svg>",
        "coilbook:../pdf.css",
        "coilbook:pdf.css/../../page.html",
        "COILBOOK:PDF.CSS",
    ]


@pytest.mark.parametrize("markup", HOSTILE)
def test_hostile_markup_reaches_neither_files_nor_the_network(markup, tmp_path, listening, monkeypatch):
    port, came = listening
    given = []
    for address in addresses(tmp_path, port):
        fetcher = pdf._fetcher()
        real = fetcher.fetch

        def fetch(url, headers=None, real=real):
            answer = real(url, headers)
            given.append(url)
            return answer

        monkeypatch.setattr(fetcher, "fetch", fetch)
        text = markup.format(address.replace("'", "%27"))
        try:
            HTML(string=f"<html><body>{text}</body></html>", url_fetcher=fetcher).write_pdf()
        except (FatalURLFetchingError, InvalidValues):
            continue  # a refusal ends the rendering: nothing half-made is stored
    assert given == []
    assert came == []


def test_a_named_file_is_given_out():
    assert CSS(url="coilbook:pdf.css", url_fetcher=pdf._fetcher()) is not None


def test_every_named_file_lies_among_the_projects_templates():
    assert all(path.resolve().is_relative_to(pdf.STYLES) and path.is_file() for path, _ in pdf.ASSETS.values())
