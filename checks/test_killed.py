"""The server ended in the middle of its work (kill -9), five times over one store: every edit it acknowledged is there
afterwards, in order, and nothing else but what was under way; the document is the one those edits make.

Source of the expected values: what the clients were told, kept here.
"""

import http.client
import json
import random
import threading
import time

from test_server import Server, ask

ROUNDS, CLIENTS = 5, 3


def test_no_acknowledged_edit_is_lost(tmp_path, capsys):
    r = random.Random(9)
    told, under_way, job = [], [], None
    for turn in range(ROUNDS):
        server = Server(tmp_path)
        if job is None:
            job = json.loads(ask(server.address, "GET", "/api/jobs")[2])[0]["id"]
        lock, over = threading.Lock(), threading.Event()

        def client(name, address=server.address, over=over, lock=lock):
            n = 0
            while not over.is_set():
                n += 1
                note = f"{name}-{n:06}"
                # Each client has a thing of its own, so that nobody's edit stands in another's way.
                edit = {"edit_id": f"killed-{note}", "base_revision": 0, "note": note,
                        "patch": [{"op": "add", "path": f"/marks/{name}", "value": {"name": note, "position": [0, n]}}]}
                with lock:
                    under_way.append(note)
                try:
                    edit["base_revision"] = json.loads(ask(address, "GET", f"/api/jobs/{job}")[2])["revision"]
                    status, _, answer = ask(address, "POST", f"/api/jobs/{job}/edits", edit)
                except (OSError, http.client.HTTPException, ValueError):
                    return
                if status == 200:
                    with lock:
                        told.append((json.loads(answer)["revision"], note))

        clients = [threading.Thread(target=client, args=(f"c{turn}{k}",)) for k in range(CLIENTS)]
        for thread in clients:
            thread.start()
        time.sleep(r.uniform(1.0, 2.0))
        server.process.kill()
        server.process.wait(10)
        server.process.stdout.close()
        over.set()
        for thread in clients:
            thread.join(30)
            assert not thread.is_alive()
    server = Server(tmp_path)
    try:
        kept, before = {}, None
        while True:
            query = "?limit=500" + (f"&before={before}" if before is not None else "")
            page = json.loads(ask(server.address, "GET", f"/api/jobs/{job}/history{query}")[2])
            if not page:
                break
            kept |= {entry["revision"]: entry["note"] for entry in page}
            before = min(entry["revision"] for entry in page)
            if before <= 1:
                break
        lost = [edit for edit in told if kept.get(edit[0]) != edit[1]]
        assert len(told) >= 50 and not lost, f"{len(lost)} of {len(told)} acknowledged edits are lost: {lost[:5]}"
        strange = [note for note in kept.values() if note and note not in under_way]
        assert not strange, strange[:5]
        marks = json.loads(ask(server.address, "GET", f"/api/jobs/{job}")[2])["document"]["marks"]
        for name in {note.split("-")[0] for _, note in told}:
            last = max((revision, note) for revision, note in kept.items() if note.startswith(f"{name}-"))
            assert marks[name]["name"] == last[1], name
        with capsys.disabled():
            print(f"\n{len(told)} acknowledged edits, {ROUNDS} times killed, none lost")
    finally:
        server.stop()
