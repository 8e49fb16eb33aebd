// Circuit symbols and wires on a sheet, as SVG elements (graphic symbols after IEC 60617, from memory).
#pragma once

#include <map>
#include <string>
#include <vector>

#include "ringquell/device.h"

namespace ringquell {

/// Share of a mode's energy by element name without a position ("gate_path.inductance"); those named here
/// stand out.
using EnergyShares = std::map<std::string, double>;

enum class DrawnSymbol { resistor, inductor, capacitor, bead };

struct DrawnPart {
    DrawnSymbol symbol = DrawnSymbol::resistor;
    std::string label;
    std::vector<std::string> elements;  // whose energy the symbol holds
};
using DrawnParts = std::vector<DrawnPart>;

DrawnParts& operator+=(DrawnParts& a, const DrawnParts& b);

/// Draws along horizontal and vertical lines. `energy` outlives the sheet.
class Sheet {
  public:
    explicit Sheet(const EnergyShares& energy) : energy_(energy) {}

    void wire(double x1, double y1, double x2, double y2);
    void joint(double x, double y);
    void terminal(double x, double y);
    void text(double x, double y, const std::string& words, const char* anchor = "middle",
              const char* kind = "name");
    /// DrawnParts evenly along a straight line; labels above a horizontal one, to the right of a vertical one
    /// (or to the left).
    void series(double x1, double y1, double x2, double y2, const DrawnParts& parts,
                bool labels_left = false);
    /// The channel: what gm drives and gds leaks, between drain above and source below.
    void channel(double x, double y, const DieValues& v);
    const std::string& svg() const { return out_; }

  private:
    double share(const DrawnPart& p) const;
    void part(const DrawnPart& p, double x, double y, bool upright, bool label_left);

    const EnergyShares& energy_;
    std::string out_;
};

}  // namespace ringquell
