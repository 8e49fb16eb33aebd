// What the drawings of a network are put together from: parts with their values and the elements they stand for.
#pragma once

#include <optional>
#include <string>

#include "page/sheet.h"
#include "ringquell/case.h"

namespace ringquell::internal {

// Wires and what is not there draw nothing.
DrawnParts resistor(const std::string& element, double ohm);
DrawnParts inductor(const std::string& element, double henry);
DrawnParts capacitor(const std::string& element, double farad);
DrawnParts rlc(const std::string& name, const SeriesRlc& x);
DrawnParts with_esr(const std::string& name, const std::optional<Capacitor>& c);
/// `path`: "gate_path".
DrawnParts bead(const std::string& path, const std::optional<Bead>& b);
DrawnParts complementary(const std::string& name, const ComplementaryDevice& c, Complementary state,
                         double farad);

/// The sheet as an SVG element with its title and description. `shown` gains what was drawn.
struct Frame {
    double width = 0, height = 0;
    std::string id, title, description;
    std::optional<double> device_x;  // where the device is: a narrow screen begins there
    double left = 0;                 // what is drawn begins there
};
std::string framed(const Sheet& sheet, const Frame& frame, ShownEnergy* shown);

/// A sentence that names what holds most of the energy; empty without `energy`.
std::string standing_out(const EnergyShares& energy, double heavy);

}  // namespace ringquell::internal
