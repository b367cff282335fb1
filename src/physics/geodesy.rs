//! Positions as metres east and north of a point, on the WGS84 ellipsoid.

/// Semi-major axis of WGS84, m.
const A: f64 = 6_378_137.0;
/// First eccentricity squared of WGS84, f·(2 − f) with f = 1/298.257223563.
const E2: f64 = {
    let f = 1.0 / 298.257_223_563;
    f * (2.0 - f)
};

/// A flat frame at a point; latitude and longitude in degrees.
///
/// The radii of curvature are taken midway to each point (middle-latitude formula): within a few
/// kilometres the error stays below a millimetre, a whole degree away it is 3e-7 of the distance.
/// Source: meridian and prime-vertical radii, e.g. NIMA TR8350.2 (WGS84).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalFrame {
    pub latitude_deg: f64,
    pub longitude_deg: f64,
}

impl LocalFrame {
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Self {
        Self {
            latitude_deg,
            longitude_deg,
        }
    }

    /// (east, north) of a position, m. NaN in, NaN out.
    pub fn east_north(&self, latitude_deg: f64, longitude_deg: f64) -> (f64, f64) {
        let middle = 0.5 * (self.latitude_deg + latitude_deg).to_radians();
        let turned = longitude_deg - self.longitude_deg;
        // The short way round, across the date line where need be.
        let d_lon = turned - 360.0 * (turned / 360.0).round();
        let w2 = 1.0 - E2 * middle.sin().powi(2);
        let prime_vertical = A / w2.sqrt();
        let meridian = A * (1.0 - E2) / (w2 * w2.sqrt());
        (
            prime_vertical * middle.cos() * d_lon.to_radians(),
            meridian * (latitude_deg - self.latitude_deg).to_radians(),
        )
    }
}

/// Distance between two positions (degrees) of one flying site, m.
pub fn distance(lat1_deg: f64, lon1_deg: f64, lat2_deg: f64, lon2_deg: f64) -> f64 {
    let (east, north) = LocalFrame::new(lat1_deg, lon1_deg).east_north(lat2_deg, lon2_deg);
    east.hypot(north)
}
