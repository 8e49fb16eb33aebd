// Circuit symbols and wires on a sheet, as SVG elements (graphic symbols after IEC 60617, from memory).
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "ringquell/device.h"

namespace ringquell::internal {

/// Share of a mode's energy by element name without the number of a position or segment
/// ("gate_path.inductance"), summed over them; all of a mode sum to 1. Those that hold nine tenths stand out.
using EnergyShares = std::map<std::string, double>;

/// "17 %", "1.4 %"
std::string percentage(double share);

/// What drawings show of a mode's energy.
struct ShownEnergy {
    std::set<std::string> elements;  // that a symbol stands for
    double with_percentage = 0;      // sum of what stands beside symbols
};

enum class DrawnSymbol { resistor, inductor, capacitor, bead };

struct DrawnPart {
    DrawnSymbol symbol = DrawnSymbol::resistor;
    std::string label;                  // its lines; beside an upright symbol one
    std::vector<std::string> elements;  // whose energy the symbol holds
};
using DrawnParts = std::vector<DrawnPart>;

/// What parts beside each other in a horizontal line need, so that no label lies on another.
double width_of(const DrawnParts& parts);

DrawnParts& operator+=(DrawnParts& a, const DrawnParts& b);

/// Draws along horizontal and vertical lines. `energy` outlives the sheet.
class Sheet {
  public:
    explicit Sheet(const EnergyShares& energy);

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
    const ShownEnergy& shown() const { return shown_; }
    /// What a symbol must hold to be among those that hold nine tenths.
    double heavy() const { return heavy_; }

  private:
    double share(const DrawnPart& p);
    void part(const DrawnPart& p, double x, double y, bool upright, bool label_left);

    const EnergyShares& energy_;
    double heavy_ = 0;
    ShownEnergy shown_;
    std::string out_;
};

}  // namespace ringquell::internal
