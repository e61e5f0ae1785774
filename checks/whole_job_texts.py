"""Invented whole jobs for the checks of whole jobs: a walled garden, a retrofit, a house that stands empty."""

# A walled garden in feet. Years ago a cable with two pairs was pulled from the rack in the house to a stub outside; today
# two lines are joined on there, for a while in one new cable whose pairs run the other way round.
GARDEN = """
format = 1
[job]
name = "Walled garden with two old pairs"
reference = "WG-1"
currency = "USD"
[brief]
supply = "70.7 V"
loss_limit = "3 dB"
nearest_listener = "2 ft"
[programmes.music]
name = "Music"
[areas.terrace]
name = "Terrace"
outline = [["10 ft", "5 ft"], ["70 ft", "5 ft"], ["70 ft", "60 ft"], ["10 ft", "60 ft"]]
listeners = "seated"
target = "68 dBA"
[surfaces.lawn]
outline = [["0 ft", "0 ft"], ["90 ft", "0 ft"], ["90 ft", "80 ft"], ["0 ft", "80 ft"]]
kind = "lawn"
loudspeakers = true
[racks.R1]
name = "Cellar"
position = ["-30 ft", "-12 ft"]
height = "3 ft"
[stubs.T1]
name = "Grey box by the garden door"
position = ["4 ft", "2 ft"]
cable = "burial-4x16awg"
length = "131 ft"
marking = "as printed: outdoor"
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
inputs = [1, 2]
gain = "-14 dB"
high_pass = { corner = "80 Hz" }
[channels.C2]
amplifier = "P1"
output = 2
inputs = [1, 2]
gain = "-11.5 dB"
high_pass = { corner = "80 Hz" }
[sources.player]
name = "Player in the study"
kind = "player"
rack = "R1"
signal = "stereo"
output = "unbalanced"
connector = "phono"
highest = "2 V"
noise = "-96 dBV"
[leads]
W1 = { source = "player", side = "left", amplifier = "P1", input = 1, length = "30 ft" }
W2 = { source = "player", side = "right", amplifier = "P1", input = 2, length = "30 ft" }
[joints.J1]
position = ["26 ft", "14 ft"]
kind = "box"
[lines.A]
channel = "C1"
start = "T1"
cable = "burial-4x14awg"
stub_pairs = [2]
topology = "tree"
[lines.A.runs]
A1 = { from = "T1", to = "J1", via = [["12 ft", "4 ft"]] }
A2 = { from = "J1", to = "L1", cable = "burial-2x14awg" }
A3 = { from = "L1", to = "L2", cable = "burial-2x14awg", length = "33 ft" }
A4 = { from = "J1", to = "L3", cable = "burial-2x14awg" }
[lines.B]
channel = "C2"
start = "T1"
cable = "burial-4x14awg"
pair = 2
[lines.B.runs]
B1 = { from = "T1", to = "J1", via = [["12 ft", "4 ft"]] }
B2 = { from = "J1", to = "L4" }
B3 = { from = "L4", to = "L5", length = "27.5 ft" }
[loudspeakers.L1]
model = "stake-165-wide"
position = ["38 ft", "22 ft"]
tap = "40 W"
line = "A"
[loudspeakers.L2]
model = "stake-165-wide"
position = ["60 ft", "34 ft"]
tap = "40 W"
line = "A"
[loudspeakers.L3]
model = "stake-110-wide"
position = ["20 ft", "40 ft"]
tap = "20 W"
line = "A"
[loudspeakers.L4]
model = "bollard-130-round"
position = ["44 ft", "8 ft"]
tap = "20 W"
line = "B"
[loudspeakers.L5]
model = "stake-165-wide"
position = ["66 ft", "10 ft"]
tap = "20 W"
line = "B"
"""

# A retrofit: every cable is there already, new loudspeakers are hung on it. One line takes both pairs of its stub at once.
RETROFIT = """
format = 1
[job]
name = "New loudspeakers on old cable"
reference = "RF-2"
[brief]
supply = "100 V"
loss_limit = "3 dB"
quiet_night = "33 dBA"
[programmes.music]
name = "Music"
[surfaces.yard]
outline = [[0, 0], [30, 0], [30, 24], [0, 24]]
kind = "bed"
[racks.R1]
name = "Bar"
position = [-8, 4]
[racks.R2]
name = "Office"
position = [-8, 20]
[stubs.T1]
name = "By the kitchen"
position = [0, 6]
cable = "burial-4x18awg"
rack = "R1"
length = 61
[stubs.T2]
name = "Behind the shed"
position = [0, 18]
cable = "burial-4x18awg"
rack = "R1"
length = 47.5
free_pairs = [2]
[amplifiers.P1]
model = "line-4x120"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
inputs = [1]
gain = "-4 dB"
high_pass = { corner = "80 Hz" }
[channels.C2]
amplifier = "P1"
output = 2
inputs = [2, 3]
gain = "-6 dB"
high_pass = { corner = "80 Hz" }
[sources.pocket]
name = "Whatever staff carry in a pocket"
kind = "other"
rack = "R1"
signal = "stereo"
output = "unbalanced"
connector = "jack 3.5 mm"
nominal = "-32 dBV"
highest = "0.5 V"
noise = "-90 dBV"
[leads]
W1 = { source = "pocket", side = "left", amplifier = "P1", input = 1, length = "1.2 m" }
W2 = { source = "pocket", side = "right", amplifier = "P1", input = 2, length = "1.2 m" }
[lines.A]
channel = "C1"
start = "T1"
cable = "burial-2x18awg"
stub_pairs = [1, 2]
[lines.A.runs]
A1 = { from = "T1", to = "L1", length = 7.4, existing = true }
A2 = { from = "L1", to = "L2", via = [[9, 3]], existing = true }
[lines.B]
channel = "C2"
start = "T2"
cable = "burial-2x18awg"
[lines.B.runs]
B1 = { from = "T2", to = "L3", length = 12, existing = true }
B2 = { from = "L3", to = "L4", length = 15.25, existing = true }
[loudspeakers.L1]
model = "stake-110-wide"
position = [5, 8]
tap = "20 W"
line = "A"
[loudspeakers.L2]
model = "stake-165-wide"
position = [14, 6]
tap = "40 W"
line = "A"
[loudspeakers.L3]
model = "stake-110-wide"
position = [8, 20]
tap = "20 W"
line = "B"
[loudspeakers.L4]
model = "stake-110-wide"
position = [20, 20]
tap = "10 W"
line = "B"
"""

# A house on a slope above an orchard, in feet. The rack stands in the middle of the house, through whose walls no hole may be
# made; years ago a cable with two pairs was pulled from there to the deck door. Nothing stands yet.
ORCHARD = """
format = 1
[job]
name = "House above the orchard"
currency = "USD"

[brief]
supply = "70.7 V"
laying = ["clipped", "staked", "slit"]
night_turn_down = "10 dB"
loss_limit = "1.5 dB"
budget = 14000

[programmes.music]
name = "Background music"
spectrum = "simulated programme"
crest_factor = "12 dB"

[areas.deck]
name = "Dining deck"
outline = [["30 ft","62 ft"],["66 ft","62 ft"],["66 ft","80 ft"],["30 ft","80 ft"]]
listeners = "seated"
target = "70 dBA"

[areas.orchard]
name = "Orchard walk"
outline = [["20 ft","84 ft"],["80 ft","84 ft"],["80 ft","118 ft"],["20 ft","118 ft"]]
listeners = "standing"
target = "66 dBA"

[neighbours.upstairs]
name = "Upstairs windows next door"
points = [["165 ft","70 ft"]]
height = "16 ft"
day = "52 dBA"
night = "42 dBA"

[site]
datum = "south-west corner post"
outline = [["0 ft","0 ft"],["110 ft","0 ft"],["110 ft","125 ft"],["0 ft","125 ft"]]
ground = "lawn"

[buildings.house]
name = "House"
outline = [["28 ft","24 ft"],["70 ft","24 ft"],["70 ft","60 ft"],["28 ft","60 ft"]]
height = "22 ft"
clip = true
loudspeakers = true
holes = false

[surfaces.deck]
name = "Deck"
outline = [["30 ft","61 ft"],["66 ft","61 ft"],["66 ft","80 ft"],["30 ft","80 ft"]]
kind = "paving"

[surfaces.borders]
name = "Borders"
outline = [["18 ft","80 ft"],["82 ft","80 ft"],["82 ft","84 ft"],["18 ft","84 ft"]]
kind = "bed"

[racks.closet]
name = "Utility closet in the middle of the house"
position = ["50 ft","40 ft"]

[stubs.deck]
name = "Old cable at the deck door"
position = ["48 ft","60.5 ft"]
cable = "burial-4x16awg"
rack = "closet"
length = "65 ft"
"""
