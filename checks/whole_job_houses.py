"""Invented whole jobs for the checks of whole jobs: beside buildings, a restaurant and a hotel."""

# A restaurant's terrace under apartments, in centimetres: two lines on 100 V in one cable that leaves the house by a passage,
# and a subwoofer on low impedance.
RESTAURANT = """
format = 1
[job]
name = "Restaurant terrace under apartments"
reference = "RA-5"
currency = "GBP"
[brief]
supply = "100 V"
loss_limit = "1.5 dB"
night_turn_down = "9 dB"
[programmes.music]
name = "Dinner music"
spectrum = "simulated programme"
crest_factor = "12 dB"
[areas.tables]
name = "Tables under the awning"
outline = [["200 cm", "100 cm"], ["1400 cm", "100 cm"], ["1400 cm", "500 cm"], ["200 cm", "500 cm"]]
listeners = "seated"
target = "66 dBA"
[neighbours.above]
name = "Apartments above the kitchen"
line = [["100 cm", "698 cm"], ["1500 cm", "698 cm"]]
height = "6.5 m"
day = "66 dBA"
night = "58 dBA"
[site]
datum = "drain cover at the corner of the terrace"
outline = [["-100 cm", "-300 cm"], ["1700 cm", "-300 cm"], ["1700 cm", "1700 cm"], ["-100 cm", "1700 cm"]]
ground = "soil"
[buildings.house]
name = "House with the kitchen"
outline = [["0 cm", "700 cm"], ["1600 cm", "700 cm"], ["1600 cm", "1600 cm"], ["0 cm", "1600 cm"]]
height = "12 m"
clip = true
loudspeakers = true
holes = false
[surfaces.terrace]
name = "Terrace, slabs"
outline = [["0 cm", "0 cm"], ["1600 cm", "0 cm"], ["1600 cm", "700 cm"], ["0 cm", "700 cm"]]
kind = "paving"
laying = "lifted"
[surfaces.trough]
name = "Planting trough"
outline = [["0 cm", "-120 cm"], ["1600 cm", "-120 cm"], ["1600 cm", "0 cm"], ["0 cm", "0 cm"]]
kind = "bed"
[passages.W1]
name = "Sleeve beside the kitchen door"
position = ["800 cm", "700 cm"]
inside_diameter = "32 mm"
holds = ["6 mm"]
[racks.R1]
name = "Cupboard behind the bar"
position = ["800 cm", "1100 cm"]
height = "140 cm"
mains = "230 V"
circuit = "13 A"
[amplifiers.P1]
model = "line-4x120"
rack = "R1"
[amplifiers.P2]
model = "low-4x250"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
inputs = [1, 2, 3]
gain = "-18 dB"
high_pass = { corner = "95 Hz" }
limiter = { rms = "100 V", peak = "141 V" }
[channels.C2]
amplifier = "P1"
output = 4
inputs = [1, 2]
gain = "-16 dB"
high_pass = { corner = "95 Hz" }
limiter = { rms = "100 V", peak = "141 V" }
[channels.C3]
amplifier = "P2"
output = 1
inputs = [1]
gain = "-24 dB"
high_pass = { corner = "32 Hz" }
low_pass = { corner = "110 Hz" }
limiter = { rms = "44 V", peak = "63 V" }
[sources.bar]
name = "Player of the bar"
kind = "player"
rack = "R1"
signal = "stereo"
output = "unbalanced"
connector = "jack 6.3 mm"
nominal = "0.9 V"
noise = "20 uV"
[sources.microphone]
name = "Receiver of the microphone"
kind = "microphone receiver"
rack = "R1"
signal = "mono"
output = "balanced"
connector = "XLR"
nominal = "-10 dBu"
highest = "+24 dBu"
noise = "-88 dBu"
[leads]
W1 = { source = "bar", side = "left", amplifier = "P1", input = 1, length = "150 cm" }
W2 = { source = "bar", side = "right", amplifier = "P1", input = 2, length = "150 cm" }
W3 = { source = "microphone", amplifier = "P1", input = 3, length = "9 m" }
W4 = { source = "bar", side = "left", amplifier = "P2", input = 1, length = "150 cm" }
W5 = { source = "bar", side = "right", amplifier = "P2", input = 2, length = "150 cm" }
[joints.J1]
position = ["800 cm", "690 cm"]
kind = "box"
[lines.A]
channel = "C1"
cable = "conduit-4x1.5mm2"
topology = "tree"
[lines.A.runs]
A1 = { from = "R1", to = "J1" }
A2 = { from = "J1", to = "L1" }
A3 = { from = "L1", to = "L2", cable = "conduit-2x1.0mm2" }
[lines.B]
channel = "C2"
cable = "conduit-4x1.5mm2"
pair = 2
topology = "tree"
[lines.B.runs]
B1 = { from = "R1", to = "J1" }
B2 = { from = "J1", to = "L3" }
B3 = { from = "L3", to = "L4", cable = "burial-4x14awg", length = "980 cm" }
[lines.S]
channel = "C3"
supply = "low impedance"
cable = "burial-2x4.0mm2"
[lines.S.runs]
S1 = { from = "R1", to = "W1", via = [["800 cm", "690 cm"], ["820 cm", "-60 cm"]] }
[loudspeakers.L1]
model = "bracket-165"
position = ["500 cm", "695 cm"]
height = "260 cm"
bearing = 180
pitch = "-25 deg"
mount = "eaves"
tap = "20 W"
line = "A"
[loudspeakers.L2]
model = "bracket-165"
position = ["200 cm", "695 cm"]
height = "260 cm"
bearing = 180
pitch = "-25 deg"
tap = "10 W"
line = "A"
[loudspeakers.L3]
model = "bracket-165"
position = ["1100 cm", "695 cm"]
height = "260 cm"
bearing = 180
pitch = "-25 deg"
tap = "20 W"
line = "B"
[loudspeakers.L4]
model = "satellite-100"
position = ["1400 cm", "-60 cm"]
bearing = 0
tap = "10 W"
line = "B"
[loudspeakers.W1]
model = "ground-sub-320"
position = ["900 cm", "-60 cm"]
coils = "series"
line = "S"
"""

# A hotel with three racks, in metres and feet: lines on 100, 70.7 and 25 V, existing cable at two racks, a passage at the third.
HOTEL = """
format = 1
[job]
name = "Hotel garden with three racks"
reference = "HG-6"
currency = "JPY"
[brief]
supply = "100 V"
loss_limit = "2.5 dB"
[programmes.day]
name = "Day"
[programmes.evening]
name = "Evening"
crest_factor = "15 dB"
[areas.pond]
name = "Pond walk"
outline = [[4, 4], [36, 4], [36, 14], [4, 14]]
target = "64 dBA"
programme = "day"
[areas.lawn]
name = "Evening lawn"
outline = [[40, 4], [62, 4], [62, 24], [40, 24]]
target = "70 dBA"
programme = "evening"
[surfaces.walk]
name = "Planting along the walk"
outline = [[0, 0], [38, 0], [38, 28], [0, 28]]
kind = "bed"
[surfaces.lawn]
name = "Evening lawn"
outline = [[38, 0], [66, 0], [66, 28], [38, 28]]
kind = "soil"
elevation = "60 cm"
loudspeakers = true
[buildings.wing]
name = "West wing"
outline = [[-14, 2], [-2, 2], [-2, 26], [-14, 26]]
height = "9 m"
holes = false
[passages.W1]
name = "Old window of the linen room"
position = [-2, 20]
inside_diameter = "50 mm"
[racks.R1]
name = "Linen room, west wing"
position = [-8, 20]
height = "1.6 m"
mains = "100 V"
circuit = "20 A"
[racks.R2]
name = "Porter's lodge"
position = [30, 32]
mains = "100 V"
circuit = "15 A"
[racks.R3]
name = "Summer house"
position = ["210 ft", "98 ft 6 in"]
height = "18 in"
mains = "100 V"
circuit = "15 A"
[stubs.T1]
name = "By the lodge steps"
position = [30, 27]
cable = "burial-4x12awg"
rack = "R2"
length = "18.5 m"
[stubs.T2]
name = "Beside the summer house"
position = [62, 27]
cable = "conduit-4x1.5mm2"
rack = "R3"
length = "41 ft"
free_pairs = [2]
[amplifiers.P1]
model = "line-4x120"
rack = "R1"
[amplifiers.P2]
model = "line-4x280"
rack = "R2"
[amplifiers.P3]
model = "line-2x520"
rack = "R3"
[channels.C1]
amplifier = "P1"
output = 1
programme = "day"
high_pass = { corner = "95 Hz" }
limiter = { rms = "100 V", peak = "141 V" }
[channels.C2]
amplifier = "P2"
output = 1
inputs = [1, 2]
gain = "-1 dB"
programme = "day"
high_pass = { corner = "95 Hz" }
limiter = { rms = "25 V", peak = "35 V" }
[channels.C3]
amplifier = "P2"
output = 3
inputs = [1, 2]
gain = "-8 dB"
programme = "evening"
high_pass = { corner = "80 Hz" }
limiter = { rms = "70 V", peak = "100 V" }
[channels.C4]
amplifier = "P3"
output = 1
bridged = true
inputs = [1, 2]
gain = "-12 dB"
programme = "evening"
high_pass = { corner = "80 Hz" }
limiter = { rms = "100 V", peak = "141 V" }
[sources.desk]
name = "Mixer in the lodge"
kind = "mixer"
rack = "R2"
signal = "stereo"
output = "balanced"
connector = "XLR"
nominal = "+4 dBu"
highest = "+19 dBu"
noise = "-85 dBu"
[leads]
W1 = { source = "desk", side = "left", amplifier = "P2", input = 1, length = "12 ft 6 in" }
W2 = { source = "desk", side = "right", amplifier = "P2", input = 2, length = "12 ft 6 in" }
W3 = { source = "desk", side = "left", amplifier = "P3", input = 1, length = "140 ft" }
W4 = { source = "desk", side = "right", amplifier = "P3", input = 2, length = "140 ft" }
[joints.J1]
position = [34, 20]
kind = "box"
[lines.A]
channel = "C1"
cable = "burial-2x2.5mm2"
[lines.A.runs]
A1 = { from = "R1", to = "L1", via = [[-2, 20]] }
A2 = { from = "L1", to = "L2", via = [[10, 16], [14, 17]] }
A3 = { from = "L2", to = "L3", length = "31 ft 6 in", cable = "burial-2x14awg", existing = true }
[lines.B]
channel = "C2"
supply = "25 V"
start = "T1"
cable = "burial-4x12awg"
topology = "tree"
[lines.B.runs]
B1 = { from = "T1", to = "J1" }
B2 = { from = "J1", to = "L4", cable = "burial-2x12awg" }
B3 = { from = "J1", to = "L5" }
[lines.C]
channel = "C3"
supply = "70.7 V"
start = "T1"
cable = "burial-4x12awg"
pair = 2
topology = "tree"
[lines.C.runs]
K1 = { from = "T1", to = "J1" }
K2 = { from = "J1", to = "L6", via = [[44, 16]] }
[lines.D]
channel = "C4"
start = "T2"
cable = "burial-2x4.0mm2"
[lines.D.runs]
D1 = { from = "T2", to = "L7" }
D2 = { from = "L7", to = "L8", via = [["190 ft", "30 ft"]] }
[loudspeakers.L1]
model = "stake-110-wide"
position = [4, 18]
tap = "20 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-narrow"
position = [16, 16]
tap = "10 W"
line = "A"
[loudspeakers.L3]
model = "rock-165"
position = [24, 16]
tap = "20 W"
line = "A"
[loudspeakers.L4]
model = "stake-110-wide"
position = [31, 15]
tap = "10 W"
line = "B"
[loudspeakers.L5]
model = "stake-110-wide"
position = [36, 16]
tap = "5 W"
line = "B"
[loudspeakers.L6]
model = "stake-165-narrow"
position = [42, 8]
tap = "80 W"
line = "C"
[loudspeakers.L7]
model = "stake-165-narrow"
position = [60, 20]
tap = "80 W"
line = "D"
[loudspeakers.L8]
model = "stake-165-wide"
position = ["174 ft", "9 ft 3 in"]
tap = "40 W"
line = "D"
"""
