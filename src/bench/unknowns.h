// What is not known of a board: the deviations that its tolerances allow, as independent standard normal numbers.
//
// UnknownNumber k of the vector x has the prior N(0, 1). A number of the case that cannot be negative is
// nominal·exp(Σ s_k·x_k), any other nominal + Σ s_k·x_k, over the tolerances that move it; s_k is the standard
// deviation of the tolerance (uniform: its half width over √3; normal: a third of it), as a share of the nominal
// value for the logarithms.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/quantity.h"

namespace ringquell::internal {

struct UnknownNumber {
    std::string label;     // `gate_path[2].inductance`
    size_t tolerance = 0;  // index into the case's `spread`
    int position = 0;      // from 1; 0: of all that the key names together
    bool batch = false;
    bool logarithmic = true;
    bool curve = false;  // of a bead: every section's resistance and inductance, so `nominal` is 1
    Dimension dimension = Dimension::number;
    double nominal = 0;    // of the first number that it moves, SI
    double deviation = 0;  // standard deviation before, SI of that number; of its logarithm where it is one
    bool moves_points = false;  // operating points must be found anew

    /// The number at x, were it moved by this unknown alone.
    double value(double x) const;
    /// A standard deviation of x, around x, in the number's unit.
    double error(double x, double standard_deviation) const;
};

/// A copy of a case whose numbers are set from x. Pointers into it stay valid; it does not move.
class UnknownCase {
  public:
    /// Of the tolerances of the case; with none there are no unknowns. Throws InputError as SampleSpace does.
    explicit UnknownCase(const Case& input);
    /// Of these tolerances in place of the case's, an unknown each of all that its key names; each is there to be moved
    /// alone, so that together they may reach below zero.
    UnknownCase(const Case& input, const std::vector<Tolerance>& alone);
    UnknownCase(const UnknownCase&) = delete;
    UnknownCase& operator=(const UnknownCase&) = delete;

    const std::vector<UnknownNumber>& unknowns() const { return unknowns_; }
    Eigen::Index size() const { return static_cast<Eigen::Index>(unknowns_.size()); }
    const Case& input() const { return input_; }
    Case& input() { return input_; }
    /// The case's numbers become those of x; what hung on it or stood in for the driver while something was measured
    /// is gone.
    void set(const Eigen::VectorXd& x);

  private:
    struct Target {
        double* value;
        double nominal;
        double deviation;
        bool logarithmic;
        Eigen::Index unknown;
    };

    void add(const Tolerance& tolerance, size_t index, int position, const std::string& label);

    Case input_;
    std::vector<UnknownNumber> unknowns_;
    std::vector<Target> targets_;
    double pull_down_ohm_;
};

/// Must operating points be found anew where a number of this key moves?
bool moves_points(const Case& input, const std::string& key);

}  // namespace ringquell::internal
