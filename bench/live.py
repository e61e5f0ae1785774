"""Many browsers dragging a loudspeaker at once: what each of them gets.

    loamline serve --data DIR --port PORT &
    python bench/live.py PORT [--clients 50] [--seconds 20] [--spacing 1.0]

Each client opens the live channel of the first job, takes a loudspeaker and asks for a map of it a little farther on as
soon as the last one has arrived, at most 60 times a second, as a browser does. A figure is only counted for an answer
to a request that was made, with the head, size and levels a map of this job must have; anything else ends the run.
"""

import argparse
import asyncio
import json
import math
import statistics
import struct
import time
import urllib.request

import websockets

MAGIC = 0x4C4D4150


def get(port, path):
    with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}") as answer:
        return json.load(answer)


async def drag(port, job, tag, at, number, arguments, waits, figures, refused):
    uri = f"ws://127.0.0.1:{port}/api/jobs/{job}/live?client=load-{number}"
    async with websockets.connect(uri, max_size=1 << 24, origin=f"http://127.0.0.1:{port}") as socket:
        ends = time.monotonic() + arguments.seconds
        request = 0
        while time.monotonic() < ends:
            request += 1
            turn = 0.15 * request + number
            place = [at[0] + math.cos(turn), at[1] + math.sin(turn)]
            patch = [{"op": "replace", "path": f"/loudspeakers/{tag}/position", "value": place}]
            sent = time.monotonic()
            await socket.send(json.dumps({"kind": "map", "request": request, "quantity": "LAeq",
                                          "spacing_m": arguments.spacing, "preview": patch,
                                          "figures": not arguments.no_figures}))
            while True:
                message = await asyncio.wait_for(socket.recv(), 60)
                if isinstance(message, str):
                    told = json.loads(message)
                    if told["kind"] == "refused" and told["request"] == request:
                        # Dragged into a wall: said so, at the place that caused it.
                        assert told["problems"][0]["path"] == "/preview", told
                        refused.append(told)
                        break
                    assert told["kind"] in ("hello", "people", "figures"), told
                    if told["kind"] == "figures":
                        assert told["areas"] and told["preview"], told
                        figures.append(time.monotonic())
                    continue
                head = struct.unpack_from("<5I5f", message)
                assert head[0] == MAGIC and head[1] <= request, head
                columns, rows, first, step = head[3], head[4], head[8], head[9]
                assert len(message) == 40 + columns * rows, (len(message), columns, rows)
                loudest = first + step * (max(message[40:]) - 1)
                assert 60 < loudest < 120, loudest
                if head[1] == request:
                    break
            if request > 1:  # the first one lays the map out
                waits.append(time.monotonic() - sent)
            await asyncio.sleep(max(0.0, 1 / 60 - (time.monotonic() - sent)))


async def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("port", type=int)
    parser.add_argument("--clients", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--spacing", type=float, default=1.0)
    parser.add_argument("--no-figures", action="store_true", help="maps only")
    arguments = parser.parse_args()
    job = get(arguments.port, "/api/jobs")[0]["id"]
    document = get(arguments.port, f"/api/jobs/{job}")["resolved"]
    tags = [(tag, [l["position"][0], l["position"][1]] if isinstance(l["position"], list)
             else [l["position"]["x"], l["position"]["y"]]) for tag, l in document["loudspeakers"].items()]
    waits, figures, refused = [], [], []
    began = time.monotonic()
    await asyncio.gather(*(drag(arguments.port, job, *tags[i % len(tags)], i, arguments, waits, figures, refused)
                           for i in range(arguments.clients)))
    took = time.monotonic() - began
    waits.sort()
    print(f"{arguments.clients} clients, {arguments.spacing} m, {took:.0f} s: {len(waits)} maps, "
          f"{len(waits) / took:.1f} maps/s in all, {len(waits) / took / arguments.clients:.1f} maps/s each, "
          f"wait median {1000 * statistics.median(waits):.0f} ms, p95 {1000 * waits[int(0.95 * len(waits))]:.0f} ms, "
          f"{len(figures)} sets of figures, {len(refused)} refused for standing in a wall")


asyncio.run(main())
