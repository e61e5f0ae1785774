"""Invented whole jobs for the checks of whole jobs: outdoors, two terraces and a patio."""

# Two terraces, one above the other, on 100 V: cable climbs a planted bank and goes through a duct beside the steps, one cable
# with a pair for each of two lines.
TERRACES = """
format = 1
[job]
name = "Two terraces with steps between them"
reference = "TT-3"
currency = "CHF"
[brief]
supply = "100 V"
loss_limit = "2 dB"
[programmes.music]
name = "Music"
[areas.upper]
name = "Upper terrace"
outline = [[2, 12], [22, 12], [22, 19], [2, 19]]
listeners = "seated"
target = "70 dBA"
[areas.lower]
name = "Lower terrace"
outline = [[2, 1], [22, 1], [22, 8], [2, 8]]
listeners = "standing"
target = "68 dBA"
[site]
datum = "foot of the gate post"
ground = "lawn"
[surfaces.lower]
name = "Lower terrace, grass"
outline = [[0, 0], [24, 0], [24, 9], [0, 9]]
kind = "lawn"
loudspeakers = true
[surfaces.bank]
name = "Planted bank with the steps"
outline = [[0, 9], [24, 9], [24, 11.5], [0, 11.5]]
kind = "bed"
elevation = "1.1 m"
[surfaces.steps]
name = "Steps"
outline = [[10, 9], [12, 9], [12, 11.5], [10, 11.5]]
kind = "paving"
elevation = "1.1 m"
[surfaces.upper]
name = "Upper terrace, gravel"
outline = [[0, 11.5], [24, 11.5], [24, 20], [0, 20]]
kind = "gravel"
elevation = "2.35 m"
[services.lighting]
kind = "electric"
line = [[0, 10.2], [24, 10.2]]
depth = "50 cm"
[sleeves.D1]
name = "Duct under the bank beside the steps"
line = [[12.5, 12], [12.5, 8.5]]
inside_diameter = "40 mm"
[racks.R1]
name = "Garden house"
position = [23.5, 19]
height = "80 cm"
mains = "230 V"
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
inputs = [1, 5]
gain = "-10 dB"
high_pass = { corner = "80 Hz" }
limiter = { rms = "100 V", peak = "141 V" }
[channels.C2]
amplifier = "P1"
output = 2
inputs = [1, 5]
gain = "-8.5 dB"
high_pass = { corner = "80 Hz" }
limiter = { rms = "100 V", peak = "141 V" }
[channels.C3]
amplifier = "P1"
output = 3
inputs = [1]
gain = "-12 dB"
high_pass = { corner = "40 Hz" }
low_pass = { corner = "120 Hz" }
limiter = { rms = "100 V", peak = "141 V" }
[sources.desk]
name = "Mixer beside the stage"
kind = "mixer"
rack = "R1"
signal = "mono"
output = "balanced"
connector = "XLR"
highest = "+22 dBu"
noise = "-92 dBu"
[sources.screen]
name = "Television under the roof"
kind = "television"
rack = "R1"
signal = "stereo"
output = "optical"
connector = "optical"
[leads]
W1 = { source = "desk", amplifier = "P1", input = 1, length = "14 m" }
W2 = { source = "screen", amplifier = "P1", input = 5, length = "6 m" }
[lines.A]
channel = "C1"
cable = "burial-2x2.5mm2"
[lines.A.runs]
A1 = { from = "R1", to = "L1", via = [[23.5, 18]] }
A2 = { from = "L1", to = "L2" }
A3 = { from = "L2", to = "L3", length = "8.2 m" }
[lines.B]
channel = "C2"
cable = "burial-4x2.5mm2"
topology = "tree"
[lines.B.runs]
B1 = { from = "R1", to = "J1", via = [[23.5, 12], [12.5, 12], [12.5, 8.5]], sleeves = ["D1"] }
B2 = { from = "J1", to = "L4", cable = "burial-2x2.5mm2" }
B3 = { from = "L4", to = "L5", cable = "burial-2x14awg" }
B4 = { from = "J1", to = "L6", cable = "burial-2x2.5mm2" }
[lines.S]
channel = "C3"
cable = "burial-4x2.5mm2"
pair = 2
[lines.S.runs]
S1 = { from = "R1", to = "J1", via = [[23.5, 12], [12.5, 12], [12.5, 8.5]], sleeves = ["D1"] }
S2 = { from = "J1", to = "W1" }
[joints.J1]
position = [12.5, 8]
kind = "box"
[loudspeakers.L1]
model = "bollard-130-round"
position = [20, 18]
tap = "40 W"
line = "A"
[loudspeakers.L2]
model = "bollard-130-round"
position = [12, 18]
tap = "40 W"
line = "A"
[loudspeakers.L3]
model = "stake-165-wide"
position = [4, 18]
bearing = 150
tap = "20 W"
line = "A"
[loudspeakers.L4]
model = "stake-165-wide"
position = [4, 7.5]
bearing = 160
tap = "40 W"
line = "B"
[loudspeakers.L5]
model = "stake-110-narrow"
position = [1, 4]
bearing = 90
tap = "20 W"
polarity = "reversed"
line = "B"
[loudspeakers.L6]
model = "rock-165"
position = [21, 7.5]
bearing = 200
tap = "40 W"
line = "B"
[loudspeakers.W1]
model = "ground-sub-270"
position = [13.5, 6]
tap = "100 W"
line = "S"
"""

# A patio on low impedance, positions in centimetres: two loudspeakers in parallel, one alone, and two subwoofers of two voice
# coils each, one with them in series, one in parallel.
PATIO = """
format = 1
[job]
name = "Low-impedance patio"
reference = "LP-4"
currency = "AUD"
[brief]
supply = "low impedance"
loss_limit = "1 dB"
[programmes.music]
name = "Music"
crest_factor = "10 dB"
[areas.patio]
name = "Patio"
outline = [["1 m", "1 m"], ["9 m", "1 m"], ["9 m", "6 m"], ["1 m", "6 m"]]
listeners = "seated"
target = "72 dBA"
[surfaces.patio]
name = "Patio"
outline = [["0 cm", "0 cm"], ["1000 cm", "0 cm"], ["1000 cm", "700 cm"], ["0 cm", "700 cm"]]
kind = "gravel"
loudspeakers = true
[racks.R1]
name = "Garage"
position = ["-250 cm", "100 cm"]
height = "120 cm"
mains = "240 V"
circuit = "20 A"
[amplifiers.P1]
model = "low-2x150"
rack = "R1"
[amplifiers.P2]
model = "low-4x250"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
high_pass = { corner = "70 Hz" }
inputs = [1]
gain = "-13 dB"
limiter = { rms = "25 V", peak = "36 V" }
[channels.C2]
amplifier = "P1"
output = 2
high_pass = { corner = "95 Hz" }
inputs = [2]
gain = "-11 dB"
limiter = { rms = "18 V", peak = "26 V" }
[channels.C3]
amplifier = "P2"
output = 1
high_pass = { corner = "30 Hz" }
inputs = [1, 5]
gain = "-9 dB"
low_pass = { corner = "110 Hz" }
limiter = { rms = "63 V", peak = "89 V" }
[channels.C4]
amplifier = "P2"
output = 2
high_pass = { corner = "30 Hz" }
inputs = [1]
gain = "-6 dB"
low_pass = { corner = "110 Hz" }
limiter = { rms = "31 V", peak = "44 V" }
[sources.receiver]
name = "Radio on the workbench"
kind = "player"
rack = "R1"
signal = "mono"
output = "balanced"
connector = "jack 6.3 mm"
nominal = "0 dBu"
highest = "+17 dBu"
noise = "9 uV"
[sources.notebook]
name = "Computer"
kind = "computer"
rack = "R1"
signal = "mono"
output = "optical"
connector = "optical"
[leads]
W1 = { source = "receiver", amplifier = "P1", input = 1, length = "720 cm" }
W2 = { source = "receiver", amplifier = "P1", input = 2, length = "4 m" }
W3 = { source = "receiver", amplifier = "P2", input = 1, length = "7.2 m" }
W4 = { source = "notebook", amplifier = "P2", input = 5 }
[joints.J1]
position = ["100 cm", "100 cm"]
kind = "box"
[lines.A]
channel = "C1"
cable = "burial-2x12awg"
topology = "tree"
[lines.A.runs]
A1 = { from = "R1", to = "J1" }
A2 = { from = "J1", to = "L1", cable = "burial-2x14awg" }
A3 = { from = "J1", to = "L2", cable = "burial-2x14awg", length = "26 ft" }
[lines.B]
channel = "C2"
cable = "burial-2x14awg"
[lines.B.runs]
B1 = { from = "R1", to = "L3", via = [["0 cm", "600 cm"]] }
[lines.S]
channel = "C3"
cable = "burial-2x10awg"
[lines.S.runs]
S1 = { from = "R1", to = "W1", via = [["50 cm", "50 cm"]] }
[lines.T]
channel = "C4"
cable = "burial-2x10awg"
[lines.T.runs]
T1 = { from = "R1", to = "W2", via = [["-100 cm", "-100 cm"], ["700 cm", "-100 cm"]] }
[loudspeakers.L1]
model = "stake-165-wide"
position = ["200 cm", "650 cm"]
bearing = 150
line = "A"
[loudspeakers.L2]
model = "stake-165-wide"
position = ["800 cm", "50 cm"]
bearing = 330
line = "A"
[loudspeakers.L3]
model = "stake-110-wide"
position = ["500 cm", "670 cm"]
bearing = 180
line = "B"
[loudspeakers.W1]
model = "ground-sub-320"
position = ["300 cm", "60 cm"]
coils = "series"
line = "S"
[loudspeakers.W2]
model = "ground-sub-320"
position = ["700 cm", "60 cm"]
coils = "parallel"
line = "T"
"""
