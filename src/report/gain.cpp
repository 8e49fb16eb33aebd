// The gain margin in words.
#include <fmt/format.h>

#include <cmath>

#include "report/parts.h"
#include "ringquell/check.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell::internal {

namespace {

std::string factor_text(double factor) {
    return fmt::format("{:.3g}", factor);
}

std::string where(const CheckResult& result, const GainMargin::Onset& onset) {
    const Mode& m = onset.mode;
    return fmt::format("a {} mode{} at \"{}\"", kind_name(m.kind),
                       m.oscillates()
                           ? ", " + engineering(m.natural_frequency_hz(), Dimension::frequency, 4) + ","
                           : " that does not oscillate",
                       result.points[onset.point].point.name);
}

std::string onset_text(const CheckResult& result, const GainMargin::Onset& onset) {
    if (onset.factor < 1)
        return fmt::format("{}: the gain must fall by {:.0f} % ({} ceases to grow last)",
                           factor_text(onset.factor), 100 * (1 - onset.factor), where(result, onset));
    return fmt::format("{} (then {} begins to grow)", factor_text(onset.factor), where(result, onset));
}

std::string margin_line(const CheckResult& result, const GainMargin& g) {
    if (!g.left_out.empty()) return fmt::format("Gain margin: not sought ({}).\n", g.left_out);
    const std::string nothing = fmt::format("> {:.0f}", largest_gain_factor);
    std::string out = "Gain margin: ";
    if (!g.onset) {
        out += nothing;
    } else {
        out += onset_text(result, *g.onset);
        if (g.onset->mode.natural_frequency_hz() > result.require.band_high_hz)
            out += fmt::format(
                "\n  That growth begins above the band, where lumped elements and missing losses make it "
                "doubtful; within and below it: {}",
                g.onset_in_band ? onset_text(result, *g.onset_in_band) : nothing);
    }
    if (!g.complete)
        out += fmt::format(
            "\n  Looked for at factors {:.0f} % apart: growth that comes and goes between two of them may "
            "have been missed.",
            100 * (g.grid_ratio - 1));
    return out + "\n";
}

}  // namespace

std::string gain_margin_line(const CheckResult& result) {
    std::string out;
    if (const auto& grown = result.grows_at_required_gain)
        out = fmt::format("With all gains {:.3g} times as large (require.gain_margin) {} grows.\n",
                          grown->factor, where(result, *grown));
    if (result.gain_margin) out += margin_line(result, *result.gain_margin);
    return out;
}

}  // namespace ringquell::internal
