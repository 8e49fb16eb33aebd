#include "ringquell/cure.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/parts.h"
#include "report/values.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

std::string ratio(const std::optional<double>& value) {
    return value ? damping(*value) : "-";
}

std::string gain_words(const std::optional<GainMargin>& margin) {
    if (!margin || !margin->left_out.empty()) return "-";
    return margin->onset ? fmt::format("{:.3g}", margin->onset->factor)
                         : fmt::format("> {:.3g}", largest_gain_factor);
}

std::string cost_words(const CureCost& c) {
    std::string out =
        fmt::format("{:>8} {:>8}", c.transfer_s ? engineering(*c.transfer_s, Dimension::time, 3) : "-",
                    c.switching_energy_j ? fmt::format("{:.3g}", *c.switching_energy_j * 1e3) : "-");
    out += fmt::format(
        " {:>7} {:>6}", c.snubber_loss_w > 0 ? fmt::format("{:.2g}", c.snubber_loss_w) : "-",
        c.induced ? fmt::format("{:.1f}{}", c.induced->gate_voltage_v, c.induced->shoot_through() ? "!" : "")
                  : "-");
    return out;
}

std::string row(const std::string& rank, const std::string& price, const std::optional<double>& differential,
                const std::optional<double>& common, const std::string& gain, const CureCost& cost) {
    return fmt::format("{:>3} {:>6} {:>8} {:>8} {:>7} {}", rank, price, ratio(differential), ratio(common),
                       gain, cost_words(cost));
}

std::string options_table(const Cure& cure) {
    std::string out = fmt::format("{:>3} {:>6} {:>8} {:>8} {:>7} {:>8} {:>8} {:>7} {:>6}   change\n", "",
                                  "price", "damping", "common", "gain", "edge", "E/mJ", "Psn/W", "Vgs/V");
    const CheckResult& b = cure.before;
    const auto of = [](const std::optional<FoundMode>& m) {
        return m ? std::optional(m->mode.damping_ratio()) : std::nullopt;
    };
    out += row("", "-", of(b.worst_differential), of(b.worst_common), gain_words(b.gain_margin),
               cure.cost_before) +
           "   as it stands\n";
    int number = 0;
    for (const CureOption& o : cure.options)
        out += row(fmt::format("{}{}", ++number, o.pareto ? "*" : " "), fmt::format("{:.2f}", o.price),
                   o.damping_ratio, o.common_damping_ratio, gain_words(o.gain_margin), o.cost) +
               "   " + changes_words(o.changes) +
               (o.with_room ? " (30 % inside its window, as check prefers)" : "") + "\n";
    return out;
}

constexpr const char* legend =
    "price: effort (1 a value on the bill of material, 3 a part more at every position, 10 layout, 30 driver "
    "or\n"
    "package; `cure: price` sets others) and |log2(new/old)|, of a new part |log2(value/typical)|. damping, "
    "common:\n"
    "worst mode of each kind. gain: by how much all gains may rise. edge, E: both transfers of the slower "
    "edge,\n"
    "energy of both edges; Psn: loss of one snubber; Vgs: the other switch's gate, lifted by dv/dt (!: it "
    "turns\n"
    "on); all estimates. *: nothing here is better in one of price, damping, energy, loss and Vgs and as "
    "good\n"
    "in the rest. Values are the nearest that pass, without room to spare but where a row says so.\n";

std::string cannot_table(const Cure& cure) {
    if (cure.alone_not.empty()) return "";
    std::string out = "What does not do alone\n";
    for (const NoCure& n : cure.alone_not) {
        const std::string reached =
            n.damping_ratio
                ? fmt::format("reaches {} ({}); ", damping(*n.damping_ratio), changes_words(n.best))
                : "";
        out += fmt::format("  {}: {}{}\n", n.what, reached, n.reason);
    }
    return out;
}

Json gain_json(const std::optional<GainMargin>& margin) {
    if (!margin || !margin->onset) return {};
    return margin->onset->factor;
}

Json cost_json(const CureCost& c) {
    Json out = Json::object();
    out["transfer_s"] = or_null(c.transfer_s);
    out["switching_energy_j"] = or_null(c.switching_energy_j);
    out["snubber_loss_w"] = c.snubber_loss_w;
    out["induced_gate_v"] = c.induced ? Json(c.induced->gate_voltage_v) : Json();
    out["shoot_through"] = c.induced ? Json(c.induced->shoot_through()) : Json();
    return out;
}

}  // namespace

Json internal::changes_value(const std::vector<CureChange>& changes) {
    Json out = Json::object();
    for (const CureChange& c : changes) out[c.key] = c.to;
    return out;
}

std::string cure_text(const Cure& cure, const std::string& written, bool quiet) {
    const CheckResult& b = cure.before;
    std::string out = fmt::format(
        "{}: {}; {}\n", verdict_word(b.verdict), b.title.empty() ? "case" : b.title,
        b.verdict == Verdict::pass ? "it passes as it stands, nothing to cure"
        : cure.options.empty()
            ? "no cure was found"
            : fmt::format("{} found", counted(static_cast<std::int64_t>(cure.options.size()), "cure")));
    if (!cure.options.empty())
        out += fmt::format("Least: {} (price {:.2f})\n", changes_words(cure.options.front().changes),
                           cure.options.front().price);
    if (!written.empty()) out += fmt::format("Written: {}\n", written);
    if (quiet || b.verdict == Verdict::pass) return out;
    out += "\n";
    if (!cure.options.empty()) out += options_table(cure) + legend + "\n";
    out += cannot_table(cure);
    if (cure.by_samples && !cure.options.empty())
        out += "Each passes with 59 samples of the case's tolerances, too.\n";
    if (cure.typical_beads)
        out += "Beads are typical ones (common practice, no source); `--beads FOLDER` tries yours.\n";
    out += fmt::format("{} networks were solved.\n", cure.networks);
    if (cure.ended_early)
        out +=
            "The search was ended early, not everything was tried: there may be a cheaper one. Fewer things "
            "to "
            "move\n"
            "(`cure: fixed`) let it end.\n";
    return out + caution;
}

std::string cure_json(const Cure& cure, const std::string& written) {
    Json out = Json::object();
    out["ringquell"] = version;
    out["verb"] = "cure";
    out["title"] = cure.before.title;
    out["verdict"] = verdict_name(cure.before.verdict);
    Json before = Json::object();
    const auto of = [](const std::optional<FoundMode>& m) {
        return m ? Json(m->mode.damping_ratio()) : Json();
    };
    before["damping_ratio"] = of(cure.before.worst_differential);
    before["common_damping_ratio"] = of(cure.before.worst_common);
    before["gain_margin"] = gain_json(cure.before.gain_margin);
    before.update(cost_json(cure.cost_before));
    out["before"] = std::move(before);
    out["options"] = Json::array();
    for (const CureOption& o : cure.options) {
        Json option{{"changes", changes_value(o.changes)}};
        option["damping_ratio"] = or_null(o.damping_ratio);
        option["common_damping_ratio"] = or_null(o.common_damping_ratio);
        option["gain_margin"] = gain_json(o.gain_margin);
        option["price"] = o.price;
        option["pareto"] = o.pareto;
        option["passes"] = true;
        option["with_room"] = o.with_room;
        option.update(cost_json(o.cost));
        out["options"].push_back(std::move(option));
    }
    out["alone_not"] = Json::array();
    for (const NoCure& n : cure.alone_not) {
        Json entry{{"what", n.what}, {"changes", changes_value(n.best)}, {"reason", n.reason}};
        entry["damping_ratio"] = or_null(n.damping_ratio);
        out["alone_not"].push_back(std::move(entry));
    }
    out["by_samples"] = cure.by_samples;
    out["ended_early"] = cure.ended_early;
    out["cured"] = written.empty() ? Json() : Json(written);
    out["caution"] = caution;
    return printed(out);
}

}  // namespace ringquell
