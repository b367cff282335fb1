//! The text of the demo season's `season.toml`.

pub const SEASON_TOML: &str = r##"# Invented data: two sister jets that never existed, flown by a simulator with a known truth.
title = "Two sister jets, two fans"
invented = true

[site]
name = "Meadow strip (invented)"
elevation = "260 m"
zone = "Europe/Vienna"

[airframe.alder]
name = "Alder"
mass = "1.95 kg"
wing_area = "23.5 dm2"
span = "0.96 m"
stall_speed = "46.8 km/h"
load_factor_limit = 6.0
negative_load_factor_limit = -3.0
speed_limit = "270 km/h"
mean_chord = "0.25 m"
# Thrust line to the joint of the mount; fan unit and pack behind the balance point, negative ahead.
joint_arm = "60 mm"
unit_arm = "180 mm"
pack_arm = "-210 mm"

# Wing area and span of the sister were never measured: they are left out.
[airframe.birch]
name = "Birch"
mass = "1.97 kg"
stall_speed = "46.8 km/h"

[controller.c80]
name = "80 A controller"
continuous = "80 A"
burst = "95 A"
burst_time = "10 s"
temperature_limit = "100 degC"

[controller.c100]
name = "100 A controller"
continuous = "100 A"
burst = "120 A"
burst_time = "10 s"
temperature_limit = "100 degC"

[pack.red]
name = "red pack"
chemistry = "LiPo"
cells = 4
capacity = "2600 mAh"
c_rating = 40
mass = "272 g"

[pack.blue]
name = "blue pack"
chemistry = "LiPo"
cells = 4
capacity = "2600 mAh"
c_rating = 45
resistance = "12 mohm"
mass = "281 g"

[pack.large]
name = "larger pack, not bought yet"
chemistry = "LiPo"
cells = 4
capacity = "3200 mAh"
c_rating = 45
mass = "338 g"

[power.six-blade]
name = "six-blade fan"
fan_diameter = "70 mm"
hub_diameter = "26 mm"
blades = 6
outlet_area = "33 cm2"
motor_kv = "2950 rpm/V"
motor_resistance = "16 mohm"
motor_no_load_current = "2.3 A"
unit_mass = "148 g"
controller = "c80"
pack = "blue"

[power.eleven-blade]
name = "eleven-blade fan"
fan_diameter = "70 mm"
hub_diameter = "26 mm"
blades = 11
outlet_area = "33 cm2"
motor_kv = "2950 rpm/V"
motor_resistance = "16 mohm"
motor_no_load_current = "2.3 A"
unit_mass = "163 g"
controller = "c80"
pack = "blue"

[instrument.meter]
name = "watt meter between pack and controller"
[instrument.meter.voltage]
accuracy = "1 %"
resolution = "0.01 V"
[instrument.meter.current]
accuracy = "2 %"
absolute = "0.1 A"
resolution = "0.1 A"
[instrument.meter.power]
accuracy = "2 %"
resolution = "1 W"
peak_hold = true

[instrument.scale]
name = "hanging scale"
[instrument.scale.thrust]
accuracy = "2 %"
absolute = "0.05 N"
resolution = "0.05 N"

[instrument.anemometer]
name = "hand-held anemometer"
[instrument.anemometer.exhaust_speed]
accuracy = "3 %"
resolution = "1 km/h"
range_end = "260 km/h"

[instrument.tachometer]
name = "optical rpm meter"
[instrument.tachometer.angular_speed]
accuracy = "0.5 %"
resolution = "10 rpm"

[instrument.radio-sensors]
name = "sensors of the radio"
[instrument.radio-sensors.voltage]
accuracy = "1 %"
resolution = "0.01 V"
[instrument.radio-sensors.current]
accuracy = "3 %"
absolute = "0.5 A"
resolution = "0.1 A"

[instrument.power-logger]
name = "power logger"
[instrument.power-logger.voltage]
accuracy = "1 %"
resolution = "0.01 V"
[instrument.power-logger.current]
accuracy = "3 %"
absolute = "0.5 A"
resolution = "0.1 A"

[[bench]]
id = "six-blade-april"
power = "six-blade"
airframe = "alder"
file = "bench/six-blade.csv"
date = "2025-04-05"
temperature = "14 degC"
pressure = "983 hPa"
humidity = "60 %"
instruments = ["meter", "scale", "anemometer", "tachometer"]
equal_duty = true

[[bench]]
id = "eleven-blade-april"
power = "eleven-blade"
airframe = "alder"
file = "bench/eleven-blade.csv"
date = "2025-04-05"
temperature = "16 degC"
pressure = "982 hPa"
instruments = ["meter", "scale", "anemometer"]
equal_duty = true
[bench.channels]
thrust = "Pull [ozf]"

[[logs]]
id = "radio"
files = "logs/radio-*.csv"
instruments = ["radio-sensors"]
[logs.channels]
throttle = { column = "Throttle [%]", ends = [-100, 100] }

[[logs]]
id = "power"
files = "logs/power-*.csv"
instruments = ["power-logger"]
[logs.channels]
throttle = { column = "throttle", unit = "us", ends = [1100, 1900] }

[[logs]]
id = "track"
files = "logs/track-*.gpx"

[[question]]
kind = "carry-over"
baseline = "six-blade"
candidate = "eleven-blade"
margin = "2 %"
margin_set = 2025-04-05

# Reserve, full throttle and least length of a pass are left at their defaults.
[rules]
headroom = "20 %"
hot_day = "35 degC"

[[option]]
name = "keep it as it is"

[[option]]
name = "100 A controller"
controller = "c100"
added_mass = "38 g"
cost = "65 EUR"

[[option]]
name = "100 A controller and larger pack"
controller = "c100"
pack = "large"
added_mass = "95 g"
cost = "120 EUR"

[[option]]
name = "stiffened fuselage at the joint"
added_mass = "45 g"
added_mass_arm = "60 mm"
cost = "12 EUR"
"##;
