#include "ringquell/inductance.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <Eigen/Core>
#include <algorithm>
#include <boost/math/quadrature/tanh_sinh.hpp>
#include <cmath>
#include <numbers>
#include <utility>

#include "numerics/decompositions.h"

namespace ringquell {

namespace {

using std::numbers::e;
using std::numbers::pi;

constexpr double mu0 = 4e-7 * pi;
constexpr double speed_of_light = 299792458.0;

double round_wire_h(double l, double r) {
    const double s = std::hypot(l, r);
    return mu0 / (2 * pi) * (l * std::log((l + s) / r) - s + r + l / 4);
}

Inductance of(const RoundWire& w) {
    Inductance out;
    out.formula = "u0/2pi*(l*ln((l+s)/r) - s + r + l/4), s = sqrt(l^2+r^2)";
    out.source = "Rosa, Bull. NBS 4 (1908) 301";
    out.validity =
        "straight wire, return far away, current uniform over the section (skin effect takes away up to the "
        "term l/4); length at least twice the diameter";
    const double l = w.length_m;
    const double self = round_wire_h(l, w.diameter_m / 2);
    if (l < 2 * w.diameter_m)
        out.warnings.push_back(
            "the wire is shorter than twice its diameter: its ends, not its length, decide");
    if (w.count == 1) {
        out.inductance_h = self;
        return out;
    }
    out.formula +=
        "; in parallel 1/sum(inverse(M)), M_ij = u0/2pi*(l*ln((l+s)/d) - s + d), s = sqrt(l^2+d^2)";
    if (w.spacing_m < 2 * w.diameter_m) {
        out.warnings.push_back(
            "the wires are closer than twice their diameter: their currents crowd, which the formula leaves "
            "out");
    }
    Eigen::MatrixXd m(w.count, w.count);
    for (int i = 0; i < w.count; ++i) {
        for (int j = 0; j < w.count; ++j)
            m(i, j) = i == j ? self : parallel_filaments_h(l, std::abs(i - j) * w.spacing_m);
    }
    out.inductance_h = 1 / internal::solve_symmetric(m, Eigen::VectorXd::Ones(w.count)).sum();
    return out;
}

Inductance of(const FlatBar& b) {
    Inductance out;
    const double section = b.width_m + b.thickness_m;
    out.inductance_h = mu0 / (2 * pi) * b.length_m *
                       (std::log(2 * b.length_m / section) + 0.5 + 0.2235 * section / b.length_m);
    out.formula = "u0/2pi*l*(ln(2l/(w+t)) + 1/2 + 0.2235*(w+t)/l)";
    out.source = "Rosa/Grover (the form with 0.2235); exact: Hoer & Love, JRNBS 69C (1965) 127";
    const double exact = exact_flat_bar_h(b);
    out.validity = fmt::format(
        "straight bar, return far away, current uniform over the section; length at least twice width + "
        "thickness; the exact integral gives {:.6g} nH",
        exact * 1e9);
    // Beyond twice the section the two agree to better than 2 %.
    if (b.length_m < 2 * section || std::abs(out.inductance_h - exact) > 0.02 * exact) {
        out.warnings.push_back(
            fmt::format("outside the formula's range: it gives {:.6g} nH, the exact integral {:.6g} nH",
                        out.inductance_h * 1e9, exact * 1e9));
    }
    return out;
}

Inductance of(const OverPlane& p) {
    Inductance out;
    const double width = p.width_m / p.height_m;
    const double t = p.thickness_m / p.height_m;
    double u = width;
    if (t > 0) {
        const double coth = 1 / std::tanh(std::sqrt(6.517 * width));
        u += t / pi * std::log(1 + 4 * e / (t * coth * coth));
    }
    const double f = 6 + (2 * pi - 6) * std::exp(-std::pow(30.666 / u, 0.7528));
    // Z0/c = µ0/2π·ln(...), since η0 = µ0·c
    out.inductance_h = mu0 * p.length_m / (2 * pi) * std::log(f / u + std::sqrt(1 + 4 / (u * u)));
    out.formula =
        "u0/2pi*l*ln(f/u + sqrt(1+4/u^2)), f = 6+(2pi-6)*exp(-(30.666/u)^0.7528), u = w/h + thickness "
        "correction";
    out.source = "Hammerstad & Jensen, IEEE MTT-S 1980 p. 407";
    out.validity =
        "wide plane below carries the return, current on the surfaces; width/height 0.01 to 100, thickness "
        "at most "
        "the height, length at least five times the height";
    if (width < 0.01 || width > 100)
        out.warnings.push_back(fmt::format("width/height = {:.4g} is outside 0.01 to 100", width));
    if (t > 1) out.warnings.push_back(fmt::format("thickness/height = {:.4g} is above 1", t));
    if (p.length_m < 5 * p.height_m)
        out.warnings.push_back("the strip is shorter than five times its height: end effects are left out");
    return out;
}

Inductance of(const ParallelPlates& p) {
    Inductance out;
    out.inductance_h = mu0 * p.gap_m / p.width_m * p.length_m;
    out.formula = "u0*gap/w*l";
    out.source = "uniform field between two plates (textbook)";
    out.validity =
        "go and return current face to face, no field outside the gap; gap at most a tenth of width and "
        "length";
    if (p.gap_m > 0.1 * p.width_m)
        out.warnings.push_back(
            "the gap exceeds a tenth of the width: the true value is lower, for the field spreads");
    if (p.gap_m > 0.1 * p.length_m)
        out.warnings.push_back("the gap exceeds a tenth of the length: end effects are left out");
    return out;
}

Inductance of(const Via& v) {
    Inductance out;
    const double h = v.height_m;
    const double r = v.diameter_m / 2;
    const double s = std::hypot(h, r);
    out.inductance_h = mu0 / (2 * pi) * (h * std::log((h + s) / r) + 1.5 * (r - s)) / v.count;
    out.formula = v.count == 1 ? "u0/2pi*(h*ln((h+s)/r) + 1.5*(r-s)), s = sqrt(h^2+r^2)"
                               : "u0/2pi*(h*ln((h+s)/r) + 1.5*(r-s))/count, s = sqrt(h^2+r^2)";
    out.source = "Goldfarb & Pucel, IEEE Microwave and Guided Wave Letters 1(6) 1991";
    out.validity =
        "one plated hole to a ground plane, current on its surface; height at least its diameter; several: "
        "no coupling between them";
    // Below h ≈ 1.5 r the fitted term 1.5·(r − s) outgrows the logarithm's safe side.
    if (h < v.diameter_m) out.warnings.push_back("the via is lower than its diameter");
    if (v.count > 1)
        out.warnings.push_back(
            "several vias are taken as uncoupled: closer than a few heights their inductance is higher");
    return out;
}

struct ShapeDimension {
    const char* name;
    bool required;
};
struct Kind {
    const char* name;
    std::vector<ShapeDimension> dimensions;
};

const std::vector<Kind>& kinds() {
    static const std::vector<Kind> all{
        {"round_wire", {{"length", true}, {"diameter", true}, {"count", false}, {"spacing", false}}},
        {"flat_bar", {{"length", true}, {"width", true}, {"thickness", true}}},
        {"over_plane", {{"length", true}, {"width", true}, {"height", true}, {"thickness", false}}},
        {"parallel_plates", {{"length", true}, {"width", true}, {"gap", true}}},
        {"via", {{"height", true}, {"diameter", true}, {"count", false}}}};
    return all;
}

const Kind* kind_of(std::string_view name) {
    for (const Kind& kind : kinds()) {
        if (name == kind.name) return &kind;
    }
    return nullptr;
}

/// A count that no layout exceeds; it bounds the size of the inductance matrix.
constexpr int most_conductors = 1000;

struct Checked {
    std::string shape;
    Place place;

    [[noreturn]] void fail(const std::string& dimension, const std::string& text) const {
        throw InputError(place, shape + "." + dimension, text);
    }
    void positive(const std::string& dimension, double value) const {
        if (!std::isfinite(value) || value <= 0)
            fail(dimension, fmt::format("found {:.6g} m; expected a positive length", value));
    }
    void count(double value) const {
        if (!(value >= 1 && value <= most_conductors) || value != std::floor(value)) {
            fail("count",
                 fmt::format("found {:.6g}; expected a whole number from 1 to {}", value, most_conductors));
        }
    }
};

void check(const RoundWire& w, const Place& place) {
    const Checked checked{"round_wire", place};
    checked.positive("length", w.length_m);
    checked.positive("diameter", w.diameter_m);
    checked.count(w.count);
    if (w.count == 1) return;
    checked.positive("spacing", w.spacing_m);
    if (w.spacing_m < w.diameter_m) {
        checked.fail("spacing", fmt::format("found {:.6g} m; expected at least the diameter, {:.6g} m",
                                            w.spacing_m, w.diameter_m));
    }
}

void check(const FlatBar& b, const Place& place) {
    const Checked checked{"flat_bar", place};
    checked.positive("length", b.length_m);
    checked.positive("width", b.width_m);
    checked.positive("thickness", b.thickness_m);
}

void check(const OverPlane& p, const Place& place) {
    const Checked checked{"over_plane", place};
    checked.positive("length", p.length_m);
    checked.positive("width", p.width_m);
    checked.positive("height", p.height_m);
    if (p.thickness_m != 0) checked.positive("thickness", p.thickness_m);
}

void check(const ParallelPlates& p, const Place& place) {
    const Checked checked{"parallel_plates", place};
    checked.positive("length", p.length_m);
    checked.positive("width", p.width_m);
    checked.positive("gap", p.gap_m);
}

void check(const Via& v, const Place& place) {
    const Checked checked{"via", place};
    checked.positive("height", v.height_m);
    checked.positive("diameter", v.diameter_m);
    checked.count(v.count);
}

}  // namespace

double parallel_filaments_h(double length_m, double distance_m) {
    const double s = std::hypot(length_m, distance_m);
    return mu0 / (2 * pi) * (length_m * std::log((length_m + s) / distance_m) - s + distance_m);
}

double exact_flat_bar_h(const FlatBar& bar) {
    check(bar, {});
    // The mean over all pairs of filaments depends on their offsets x = w·p, y = t·q alone, whose densities
    // are 2·(1 − p) and 2·(1 − q). The logarithm at p = q = 0 lies in a corner, where this quadrature bears
    // it.
    boost::math::quadrature::tanh_sinh<double> integrator;
    const auto inner = [&](double p) {
        const auto f = [&](double q) {
            const double d = std::hypot(bar.width_m * p, bar.thickness_m * q);
            return d == 0 ? 0 : 2 * (1 - q) * parallel_filaments_h(bar.length_m, d);
        };
        return 2 * (1 - p) * integrator.integrate(f, 0.0, 1.0, 1e-11);
    };
    return integrator.integrate(inner, 0.0, 1.0, 1e-10);
}

Inductance inductance_of(const Shape& shape) {
    std::visit([](const auto& s) { check(s, {}); }, shape);
    return std::visit([](const auto& s) { return of(s); }, shape);
}

const std::vector<std::string>& shape_names() {
    static const std::vector<std::string> names = [] {
        std::vector<std::string> out;
        for (const Kind& kind : kinds()) out.emplace_back(kind.name);
        return out;
    }();
    return names;
}

std::vector<std::string> dimension_names(std::string_view shape) {
    std::vector<std::string> out;
    if (const Kind* kind = kind_of(shape)) {
        for (const ShapeDimension& d : kind->dimensions) out.emplace_back(d.name);
    }
    return out;
}

Shape shape_from(const std::string& name, const std::map<std::string, double>& dimensions_m,
                 const Place& place) {
    const Kind* kind = kind_of(name);
    if (kind == nullptr) {
        throw InputError(place, name,
                         fmt::format("unknown shape; expected one of {}", fmt::join(shape_names(), ", ")));
    }
    const Checked checked{name, place};
    const auto known = dimension_names(name);
    for (const auto& [key, value] : dimensions_m) {
        if (std::find(known.begin(), known.end(), key) == known.end()) {
            checked.fail(key, fmt::format("unknown dimension; expected one of {}", fmt::join(known, ", ")));
        }
    }
    for (const ShapeDimension& d : kind->dimensions) {
        if (d.required && !dimensions_m.contains(d.name)) checked.fail(d.name, "missing; expected a length");
    }
    const auto get = [&](const char* key, double otherwise = 0) {
        const auto found = dimensions_m.find(key);
        return found == dimensions_m.end() ? otherwise : found->second;
    };
    checked.count(get("count", 1));
    const int count = static_cast<int>(get("count", 1));
    if (name == "round_wire" && count > 1 && !dimensions_m.contains("spacing")) {
        checked.fail("spacing",
                     "missing; expected the distance between neighbouring axes, for count exceeds 1");
    }
    Shape shape;
    if (name == "round_wire") {
        shape = RoundWire{get("length"), get("diameter"), count, get("spacing")};
    } else if (name == "flat_bar") {
        shape = FlatBar{get("length"), get("width"), get("thickness")};
    } else if (name == "over_plane") {
        shape = OverPlane{get("length"), get("width"), get("height"), get("thickness")};
    } else if (name == "parallel_plates") {
        shape = ParallelPlates{get("length"), get("width"), get("gap")};
    } else {
        shape = Via{get("height"), get("diameter"), count};
    }
    std::visit([&](const auto& s) { check(s, place); }, shape);
    return shape;
}

}  // namespace ringquell
