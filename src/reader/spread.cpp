#include "reader/spread.h"

#include <fmt/format.h>

#include <cmath>

#include "case/sample_space.h"
#include "case/tolerances.h"
#include "reader/field_reader.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {
namespace {

/// `15 %` is a share of the nominal value; anything else is a quantity of the key's dimension.
double read_amount(const Node& node, Dimension dimension, const std::string& path, bool& relative) {
    if (!node.is_scalar())
        fail_expecting(node, path, "a tolerance such as `15 %` or " + expected_text(dimension));
    relative = node.scalar.ends_with('%');
    const double out = parse_quantity(node.scalar, relative ? Dimension::share : dimension, node.place, path);
    if (!(out > 0)) fail_expecting(node, path, "a tolerance above zero");
    return out;
}

Correlation read_correlation(const Node& node, const std::string& path, ReadContext& context) {
    if (!node.is_map()) fail_expecting(node, path, "`{with: KEY, coefficient: 0.8}`, or a list of such");
    Correlation out;
    FieldReader reader(node, path, context);
    const Node* with = reader.take("with", is_mandatory);
    reader.number("coefficient", out.coefficient, mandatory(any_sign(fraction)));
    reader.finish();
    if (!with->is_scalar()) fail_expecting(*with, path + ".with", "the key of another tolerance");
    out.with = with->scalar;
    out.place = with->place;
    if (!(std::abs(out.coefficient) < 1))
        fail_expecting(*node.find("coefficient"), path + ".coefficient", "a number above -1 and below 1");
    return out;
}

std::vector<Correlation> read_correlations(const Node& node, const std::string& path, ReadContext& context) {
    if (!node.is_list()) return {read_correlation(node, path, context)};
    if (node.items.empty())
        throw InputError(node.place, path, "found an empty list, expected one correlation or more");
    std::vector<Correlation> out;
    for (size_t i = 0; i < node.items.size(); ++i)
        out.push_back(read_correlation(node.items[i], fmt::format("{}[{}]", path, i + 1), context));
    return out;
}

Tolerance read_tolerance(const Node& node, const std::string& key, const std::string& path, const Case& in,
                         ReadContext& context) {
    Tolerance out;
    out.key = key;
    out.place = node.place;
    bool one_position = false;
    const bool position_number = is_position_number(key, one_position);
    out.vary = position_number ? Vary::position : Vary::batch;
    const Dimension dimension = key.ends_with(".bead") ? Dimension::share : find_number(in, key).dimension;
    FieldReader reader(node, path, context);
    const Node* amount = reader.take("tolerance", is_mandatory);
    const Node* at_least = reader.take("at_least");
    reader.choice("vary", out.vary, vary_names, !is_mandatory);
    reader.choice("distribution", out.distribution, distribution_names, !is_mandatory);
    const Node* correlations = reader.take("correlation");
    reader.finish();
    out.amount = read_amount(*amount, dimension, path + ".tolerance", out.relative);
    if (key.ends_with(".bead") && !out.relative)
        fail_expecting(*amount, path + ".tolerance", "a share such as `25 %`, since the whole curve scales");
    if (at_least) {
        bool relative = false;
        out.at_least = read_amount(*at_least, dimension, path + ".at_least", relative);
        if (relative || key.ends_with(".bead"))
            fail_expecting(*at_least, path + ".at_least", expected_text(dimension));
    }
    if (correlations) out.correlations = read_correlations(*correlations, path + ".correlation", context);
    return out;
}

}  // namespace

std::vector<Tolerance> read_spread(const Node& node, const Case& in, ReadContext& context) {
    std::vector<Tolerance> out;
    if (node.is_scalar()) {
        if (node.scalar != "typical")
            fail_expecting(node, "spread", "`typical`, or a map of keys and their tolerances");
        out = typical_spread(in);
        for (Tolerance& t : out) t.place = node.place;
    } else {
        if (!node.is_map())
            fail_expecting(node, "spread", "`typical`, or a map of keys and their tolerances");
        for (const auto& [key, value] : node.entries) {
            if (value.is_null()) continue;
            const std::string path = "spread." + key.text;
            try {
                varying_number(in, key.text, 0);
            } catch (const InputError& error) {
                throw InputError(key.place, path, error.text());
            }
            if (!value.is_list()) {
                out.push_back(read_tolerance(value, key.text, path, in, context));
                continue;
            }
            for (size_t i = 0; i < value.items.size(); ++i)
                out.push_back(read_tolerance(value.items[i], key.text, fmt::format("{}[{}]", path, i + 1), in,
                                             context));
        }
    }
    if (out.empty()) return out;
    Case with = in;
    with.spread = out;
    const SampleSpace checked(std::move(with));
    return out;
}

}  // namespace ringquell::internal
