"""A job read, predicted, proposed and priced over HTTP: whole_job.py ADDRESS JOB.toml, where `loamline serve` is."""
import io, json, sys, time, urllib.request, zipfile

def ask(path, body=None, media="application/json"):
    request = urllib.request.Request(f"{sys.argv[1]}api/jobs{path}", body, {"content-type": media})
    return json.load(urllib.request.urlopen(request))

with zipfile.ZipFile(folder := io.BytesIO(), "w") as archive:
    archive.write(sys.argv[2], "job.toml")
job = "/" + ask("/import", folder.getvalue(), "application/zip")["id"]
for area in ask(f"{job}/levels")["levels"]["areas"].values():
    told = area["statistics"]
    print(f"{area['name']}: {told['mean_dba']:.1f} dBA, wanted {area['target_dba']:.1f} dBA, spread {told['spread_db']:.1f} dB")

run = ask(f"{job}/propose", json.dumps({"options": ["least-cost"], "time_s": 2}).encode())["run"]
while not (made := ask(f"{job}/propose/{run}"))["done"]:
    time.sleep(0.5)
design = made["proposal"]["options"][0]
print(f"Proposed: {design['figures']['loudspeakers']} loudspeakers, {design['figures']['price']:.2f} {made['proposal']['currency']}")
edit = {"edit_id": f"take-{run}", "base_revision": made["revision"], "patch": design["edit"]}
print("Written as revision", ask(f"{job}/edits", json.dumps(edit).encode())["revision"])
