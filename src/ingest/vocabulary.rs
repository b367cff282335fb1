//! The words that name quantities in headers: English, German, French, Spanish, Italian, Dutch,
//! Polish, Czech, Swedish, Portuguese; without accents, as [`super::words`] compares them.

use super::log::Channel::{self, *};

pub(super) struct Phrase {
    pub channel: Channel,
    pub unit: Option<&'static str>,
    /// Alternatives, each of one or more words.
    pub words: &'static [&'static str],
}

const fn p(channel: Channel, words: &'static [&'static str]) -> Phrase {
    Phrase {
        channel,
        unit: None,
        words,
    }
}

const fn u(channel: Channel, unit: &'static str, words: &'static [&'static str]) -> Phrase {
    Phrase {
        channel,
        unit: Some(unit),
        words,
    }
}

#[rustfmt::skip]
pub(super) const PHRASES: &[Phrase] = &[
    p(Time, &["time", "timestamp", "zeit", "uhrzeit", "zeitstempel", "laufzeit", "temps", "heure",
        "horodatage", "tiempo", "hora", "tempo", "ora", "elapsed", "clock", "date time", "datetime",
        "t", "utc time", "gps time", "utc", "unix", "unix time", "unixtime", "epoch", "epoch time",
        "posix time", "zeitpunkt", "marca tiempo",
        "tow", "itow", "gps tow", "time week", "gps seconds", "gps ms", "boot", "uptime",
        "duree", "instant", "fecha hora", "tijd", "tijdstip", "tijdstempel", "looptijd", "czas", "cas", "tid",
        "tidpunkt", "tidsstampel", "temps ecoule", "tempo decorrido"]),
    u(Time, "s", &["seconds", "sec", "secs", "sekunden", "secondes", "segundos", "secondi", "seconden", "sekundy", "sekunder", "vteriny"]),
    u(Time, "ms", &["millis", "milliseconds", "msec", "millisekunden"]),
    u(Time, "us", &["micros", "microseconds", "usec"]),
    p(Throttle, &["throttle", "thr", "gas", "gaz", "esc signal", "esc input", "esc pwm",
        "motor signal", "motor command", "motor pwm", "motor output", "throttle signal",
        "throttle stick", "gasstellung", "gasknuppel", "drossel", "acelerador", "acceleratore",
        "manette", "manette gaz", "commande gaz", "stick", "duty", "duty cycle", "pwm",
        "throttle command", "throttle position", "manetta", "mando gas",
        "gaskanal", "throttle channel", "gashebel", "gaspadrag", "plyn", "gaspedaal", "gashendel", "przepustnica", "manche gaz", "gasreglage"]),
    p(Voltage, &["voltage", "volt", "spannung", "akkuspannung", "batteriespannung", "tension",
        "tension batterie", "tensione", "voltaje", "vbat", "vbatt", "v batt", "v bat", "v pack",
        "u batt", "u bat", "u akku", "volt batt", "pack voltage", "battery voltage", "u",
        "vpack", "v bus", "bus voltage", "u pack", "spanning", "accuspanning", "napiecie", "napeti",
        "tensao", "tensao bateria", "voltagem"]),
    u(Voltage, "V", &["volts", "voltios", "voltow", "voltu"]),
    p(Current, &["current", "strom", "akkustrom", "motorstrom", "courant", "corriente", "corrente",
        "intensite", "intensidad", "intensita", "amperage", "curr", "ibat", "ibatt", "i batt",
        "i bat", "i pack", "i akku", "battery current", "pack current", "i",
        "ipack", "i bus", "bus current", "stroom", "accustroom", "motorstroom", "prad", "proud",
        "assorbimento", "courant batterie", "amperaje"]),
    u(Current, "A", &["amps", "amp", "ampere", "amperes", "amperios"]),
    p(Power, &["power", "leistung", "puissance", "potencia", "potenza", "electrical power",
        "input power", "elektrische leistung", "ppack", "p", "vermogen", "moc", "vykon", "effekt"]),
    u(Power, "W", &["watts", "watt", "vatios"]),
    p(Charge, &["charge", "capacity", "consumed", "consumption", "used capacity", "charge used",
        "capacity used", "discharged", "kapazitat", "verbrauch", "entnommene ladung", "ladung",
        "consommation", "capacite", "consumo", "capacidad", "capacita", "carga", "charge drawn",
        "kapazitaet", "verbruik", "capaciteit", "pojemnosc", "kapacita", "spotreba", "forbrukning",
        "kapacitet", "laddning"]),
    u(Charge, "mAh", &["mah"]),
    p(AngularSpeed, &["drehzahl", "motor speed", "rotor speed", "fan speed", "optical speed",
        "motor optical speed", "electrical speed", "motor electrical speed", "rotational speed",
        "vitesse rotation", "regime", "velocidad giro", "speed", "umdrehungen", "motordrehzahl",
        "drehz", "shaft speed", "toerental", "obroty", "otacky", "varvtal", "rotacao", "rotacoes",
        "predkosc obrotowa", "rotationsgeschwindigkeit"]),
    u(AngularSpeed, "rpm", &["rpm", "motor rpm", "revs", "erpm", "electrical rpm", "revoluciones",
        "giri", "tours minute", "fan rpm", "u min", "tours min", "tr min", "obr min", "ot min",
        "varv min", "toeren", "umdr min", "rev min"]),
    p(Thrust, &["thrust", "static thrust", "schub", "standschub", "poussee", "empuje", "spinta",
        "pull", "force", "kraft", "zug", "zugkraft", "load cell", "traction", "traccion", "fuerza",
        "forza", "scale", "trazione", "stuwkracht", "trekkracht", "ciag", "tah", "dragkraft", "empuxo"]),
    p(ExhaustSpeed, &["exhaust", "exhaust speed", "exhaust velocity", "efflux", "efflux speed",
        "efflux velocity", "jet speed", "jet velocity", "exit velocity", "exit speed", "anemometer",
        "strahlgeschwindigkeit", "austrittsgeschwindigkeit", "vitesse ejection", "vitesse jet",
        "velocidad escape", "velocidad chorro", "velocita scarico", "velocita getto", "outlet speed",
        "strahl", "jet", "luftstrom", "ausblasgeschwindigkeit", "getto", "chorro", "straalsnelheid"]),
    p(GroundSpeed, &["ground speed", "groundspeed", "gps speed", "gspeed", "gspd", "speed", "sog",
        "velocity", "vel", "geschwindigkeit", "vitesse", "vitesse sol", "velocidad", "velocita",
        "gps geschwindigkeit", "speed over ground", "gps velocity", "spd", "gnd spd", "gps spd", "gnd speed",
        "geschw", "grundgeschwindigkeit", "snelheid", "grondsnelheid", "predkosc", "rychlost", "hastighet",
        "fart", "velocidade", "velocidade solo", "vit sol", "vit"]),
    p(Course, &["course", "cog", "track", "kurs", "cap", "rumbo", "rotta", "curso", "bearing",
        "gps heading", "gps course", "course over ground", "route", "heading", "hdg", "gps hdg", "koers", "kurz",
        "rumo", "rota", "richting", "trk"]),
    p(VelocityNorth, &["v north", "vel n", "vel north", "velocity north", "north velocity",
        "speed north", "vn", "v n"]),
    p(VelocityEast, &["v east", "vel e", "vel east", "velocity east", "east velocity", "speed east",
        "ve", "v e"]),
    p(VelocityDown, &["v down", "vel d", "vel down", "velocity down", "down velocity", "speed down",
        "vd", "v d"]),
    p(Airspeed, &["airspeed", "air speed", "ias", "tas", "pitot", "indicated airspeed",
        "true airspeed", "pitot speed", "fahrt", "vitesse air", "velocidad aire", "velocita aria",
        "fluggeschwindigkeit", "eigengeschwindigkeit", "vit air", "vel aire", "vel aria", "vel ar",
        "velocidade ar", "luchtsnelheid", "predkosc powietrzna", "vzdusna rychlost", "lufthastighet", "flygfart"]),
    p(Height, &["height", "altitude", "alt", "hohe", "hoehe", "flughohe", "gps alt", "gps altitude",
        "baro alt", "elevation", "ele", "hauteur", "altura", "altitud", "altezza", "altitudine",
        "quota", "agl", "msl", "hoogte", "wysokosc", "vyska", "hojd", "altura solo", "flyghojd", "baro"]),
    p(Latitude, &["lat", "latitude", "breite", "breitengrad", "latitud", "latitudine", "gps lat",
        "breedtegraad", "breedte", "szerokosc", "szerokosc geogr", "sirka", "zemepisna sirka", "breddgrad"]),
    p(Longitude, &["lon", "long", "lng", "longitude", "lange", "laenge", "langengrad",
        "laengengrad", "longitud", "longitudine", "gps lon", "gps long", "lengtegraad", "lengte", "dlugosc",
        "dlugosc geogr", "delka", "zemepisna delka", "langdgrad", "gps lng"]),
    p(ClimbRate, &["climb", "climb rate", "vario", "variometer", "vertical speed", "vspeed", "v speed", "vspd", "v spd",
        "vertical velocity", "steigen", "steigrate", "vitesse verticale", "velocidad vertical",
        "velocita verticale", "rate of climb", "stijgsnelheid", "wznoszenie", "stoupani", "stighastighet",
        "velocidade vertical", "vz", "roc", "climbrate"]),
    p(AccelerationX, &["acc x", "accel x", "acceleration x", "ax", "a x", "accx",
        "beschleunigung x"]),
    p(AccelerationY, &["acc y", "accel y", "acceleration y", "ay", "a y", "accy",
        "beschleunigung y"]),
    p(AccelerationZ, &["acc z", "accel z", "acceleration z", "az", "a z", "accz",
        "beschleunigung z", "load factor"]),
    p(ControllerTemperature, &["esc temp", "esc temperature", "controller temp", "esc t",
        "controller temperature", "temp esc", "temperature esc", "regler temp", "temp regler",
        "regler temperatur", "reglertemperatur", "fet temp", "temperature variateur",
        "temperatura variador", "temperatura regolatore",
        "temp variateur", "temp variador", "temp regolatore", "reglertemp", "t esc", "t regler", "regelaar temp",
        "regelaartemp", "regelaartemperatuur", "temp regulatora", "temperatura regulatora",
        "teplota regulatoru", "fartreglage temp", "temp controlador"]),
    p(MotorTemperature, &["motor temp", "motor temperature", "temp motor", "temperature motor",
        "motor temperatur", "motortemperatur", "temperature moteur", "temperatura motor",
        "temperatura motore", "winding temperature",
        "motortemp", "temp moteur", "temp motore", "t motor", "t mot", "motortemperatuur", "temp silnika",
        "temperatura silnika", "teplota motoru"]),
    p(PackTemperature, &["battery temp", "battery temperature", "batt temp", "pack temp",
        "pack temperature", "akku temp", "akku temperatur", "akkutemperatur", "temp batt",
        "temperature batterie", "temperatura bateria", "temperatura batteria",
        "temp bateria", "temp batteria", "temp batterie", "temp accu", "t batt", "t bat", "t akku", "t pack",
        "akkutemp", "accutemp", "accutemperatuur", "temp akumulatora", "teplota baterie", "batteritemperatur"]),
    p(AirTemperature, &["air temp", "air temperature", "ambient temp", "ambient temperature",
        "ambient", "outside temperature", "oat", "aussentemperatur", "lufttemperatur",
        "umgebungstemperatur", "temperature air", "temperatura aire", "temperatura aria",
        "aussentemp", "lufttemp", "temp exterieure", "temperature exterieure", "temp aire", "temp aria",
        "temp ar", "temperatura ar", "temp exterior", "temp esterna", "t amb", "t air", "t luft", "theta amb",
        "buitentemperatuur", "luchttemperatuur", "temp powietrza", "teplota vzduchu", "temp ambiente",
        "temperatura ambiente"]),
    p(Pressure, &["pressure", "baro pressure", "luftdruck", "druck", "pression", "presion",
        "pressione", "static pressure", "air pressure", "barometer", "baro", "p", "pressao", "luchtdruk", "cisnienie", "tlak", "lufttryck"]),
    p(Satellites, &["sats", "sat", "satellites", "satelliten", "satelites", "satelliti",
        "num sats", "satellites used", "numsat", "satellieten", "satelity", "satelliter", "nsat", "sv"]),
];

/// Words that say: not the plain quantity. Such a column loses against a plain one.
#[rustfmt::skip]
pub(super) const QUALIFIERS: &[&str] = &[
    "max", "min", "avg", "average", "mean", "peak", "filtered", "raw", "receiver", "rx", "bec",
    "servo", "remaining", "left", "empty", "full", "rest", "target", "setpoint", "desired", "cmd",
    "variance", "error", "ellipsoid", "relative", "sample", "design", "nominal", "limit", "spitze",
    "empfanger", "recepteur", "receptor", "heading", "invalid", "stddev",
    "pwm", "stick", "scaled", "erpm", "baro", "indicated",
];

/// Of these the ones that say so even as part of a phrase (`electrical rpm`); of the others only
/// what the phrase leaves over counts.
pub(super) const ALWAYS_QUALIFIERS: &[&str] = &["erpm", "heading", "hdg"];

/// Words of a greatest or least value held; in a log such a column is not the quantity.
pub(super) const EXTREMES: &[&str] = &["max", "maximum", "min", "minimum", "peak", "spitze"];

/// Words that tell of more than one quantity: they count only beside a written unit.
pub(super) const UNIT_NEEDED: &[&str] = &["p", "baro"];

/// What a reading is taken of: beside a unit it tells the quantity (`bat_A`, `esc_degC`, `gps_kmh`).
#[rustfmt::skip]
pub(super) const PACK: &[&str] = &[
    "bat", "batt", "battery", "pack", "akku", "accu", "batterie", "bateria", "batteria", "batteri",
    "main", "bus", "supply", "lipo",
];
pub(super) const CONTROLLER: &[&str] = &[
    "esc",
    "controller",
    "regler",
    "variateur",
    "variador",
    "regolatore",
    "fet",
];
pub(super) const MOTOR: &[&str] = &["motor", "moteur", "motore", "mot", "silnik"];

/// Words beside which no phrase counts: another quantity altogether.
#[rustfmt::skip]
pub(super) const OTHERS: &[&str] = &[
    "coefficient", "coeff", "coef", "koeffizient", "beiwert", "coefficiente", "wspolczynnik", "eta",
    "density", "dichte", "loading", "loss", "specific", "accuracy", "precision", "genauigkeit", "hacc",
    "vacc", "sigma", "std", "quality",
    "cell", "zelle", "cells", "efficiency", "wirkungsgrad", "rendement", "ratio", "factor", "delta",
    "count", "status", "mode", "id", "wind", "dynamic", "differential", "noise", "hdop", "vdop",
    "valid", "offset", "lost", "frame", "rssi", "tension2", "angle", "dist", "distance", "home",
];
