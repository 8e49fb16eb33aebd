#include "reader/bench_record.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <tuple>

#include "base/nearest.h"
#include "reader/field_reader.h"

namespace ringquell::internal {

namespace {

constexpr std::array supply_names{"pull_down", "high_impedance"};

template <class V>
void describe_point(V& v, BenchPoint& p) {
    v.choice("edge", p.edge, edge_names, is_mandatory);
    v.number("vds", p.vds_v, mandatory(any_sign(volts)));
    v.number("current", p.current_a, mandatory(any_sign(amperes)));
    v.choice("complementary", p.complementary, complementary_names, is_mandatory);
}

/// The path of a file that the bench file names. It may be large, so it is only looked for.
std::string named_file(FieldReader& reader, ReadContext& context) {
    const Node* node = reader.take("file", is_mandatory);
    if (!node) return {};
    const std::string path = reader.path_of("file");
    if (!node->is_scalar() || node->scalar.empty()) fail_expecting(*node, path, "the path of a file");
    std::string out = beside(node->scalar, node->place, context);
    std::error_code error;
    const auto status = std::filesystem::status(out, error);
    if (!std::filesystem::exists(status))
        throw InputError(node->place, path, fmt::format("the file `{}` does not exist", out));
    if (std::filesystem::is_directory(status))
        throw InputError(node->place, path, fmt::format("the file `{}` is a directory", out));
    context.files_read.push_back(out);
    return out;
}

void check_window(const Node& node, const std::string& path, const std::optional<double>& from,
                  const std::optional<double>& to, Dimension dimension) {
    if (from && to && *from >= *to)
        throw InputError(node.find("from")->place, path + ".from",
                         fmt::format("found {}, at or beyond `to`, {}; expected a window from low to high",
                                     engineering(*from, dimension), engineering(*to, dimension)));
}

void read_waveform_keys(const Node& node, const std::string& path, BenchRecord& out, ReadContext& context) {
    FieldReader reader(node, path, context);
    out.kind = BenchRecord::Kind::waveform;
    out.file = named_file(reader, context);
    reader.text("time", out.time_column);
    reader.text("value", out.value_column);
    reader.number("from", out.from_s, any_sign(seconds));
    reader.number("to", out.to_s, any_sign(seconds));
    reader.finish();
    check_window(node, path, out.from_s, out.to_s, Dimension::time);
}

/// Frequency, and how fast it dies: as a damping ratio, or as the time to 1/e.
void read_ring_keys(const Node& node, const std::string& path, BenchRecord& out, ReadContext& context) {
    FieldReader reader(node, path, context);
    out.kind = BenchRecord::Kind::ring;
    std::optional<double> decay_s, decay_error_s, damping, damping_error;
    reader.number("frequency", out.frequency_hz, mandatory(positive(hertz)));
    reader.number("frequency_error", out.frequency_error_hz, hertz);
    reader.number("damping", damping, fraction);
    reader.number("damping_error", damping_error, fraction);
    reader.number("decay", decay_s, positive(seconds));
    reader.number("decay_error", decay_error_s, seconds);
    reader.finish();
    if (decay_s && damping)
        reader.fail(*node.find("damping"), "damping", "found beside `decay`; expected one of the two");
    if (!decay_s && !damping)
        throw InputError(node.place, path, "found neither `decay` nor `damping`; expected one of the two");
    if (decay_error_s && !decay_s)
        reader.fail(*node.find("decay_error"), "decay_error", "goes with `decay`; expected `damping_error`");
    if (damping_error && !damping)
        reader.fail(*node.find("damping_error"), "damping_error",
                    "goes with `damping`; expected `decay_error`");
    if (damping && *damping >= 1)
        fail_expecting(*node.find("damping"), path + ".damping", "a damping ratio below 1");
    if (out.frequency_error_hz >= out.frequency_hz)
        fail_expecting(*node.find("frequency_error"), path + ".frequency_error", "less than `frequency`");
    if (damping) {
        out.damping_ratio = *damping;
        out.damping_error = damping_error.value_or(0);
        return;
    }
    // ζ = σ/√(σ² + ω²) with σ = 1/τ, so that dζ/ζ = −(1 − ζ²)·dτ/τ.
    const double zeta = 1 / std::hypot(1.0, 2 * std::numbers::pi * out.frequency_hz * *decay_s);
    out.damping_ratio = zeta;
    out.damping_error = zeta * (1 - zeta * zeta) * decay_error_s.value_or(0) / *decay_s;
}

void read_impedance_keys(const Node& node, const std::string& path, BenchRecord& out, ReadContext& context) {
    FieldReader reader(node, path, context);
    out.kind = BenchRecord::Kind::impedance;
    out.file = named_file(reader, context);
    reader.number("from", out.from_hz, positive(hertz));
    reader.number("to", out.to_hz, positive(hertz));
    reader.number("error", out.error, positive(fraction));
    reader.finish();
    check_window(node, path, out.from_hz, out.to_hz, Dimension::frequency);
}

/// One of `waveform`, `ring` and `impedance`.
void read_kind(const Node& node, FieldReader& reader, BenchRecord& out, ReadContext& context) {
    constexpr std::array kinds{"waveform", "ring", "impedance"};
    constexpr std::array readers{read_waveform_keys, read_ring_keys, read_impedance_keys};
    int found = -1;
    for (size_t k = 0; k < kinds.size(); ++k) {
        const Node* value = reader.take(kinds[k]);
        if (!value) continue;
        if (found >= 0)
            reader.fail(*value, kinds[k],
                        fmt::format("found beside `{}`; expected one of `waveform`, `ring` and `impedance`",
                                    kinds[static_cast<size_t>(found)]));
        found = static_cast<int>(k);
    }
    if (found < 0)
        throw InputError(node.place, out.key,
                         "found neither `waveform` nor `ring` nor `impedance`; expected one of the three");
    const auto k = static_cast<size_t>(found);
    readers[k](*node.find(kinds[k]), reader.path_of(kinds[k]), out, context);
}

/// The probe that is hung on, or the nodes of a measurement that loads nothing.
void read_nodes(const Node& node, FieldReader& reader, const std::vector<Probe>& probes, BenchRecord& out) {
    const Node* probe = reader.take("probe");
    const Node* between = reader.take("between");
    if (probe && between)
        reader.fail(*between, "between",
                    "found beside `probe`, which has nodes of its own; expected one of the two");
    if (probe && out.kind == BenchRecord::Kind::impedance)
        reader.fail(*probe, "probe",
                    "found beside `impedance`, which is taken at the nodes themselves; expected `between`");
    if (between) {
        std::tie(out.from, out.to) = read_between(*between, reader.path_of("between"));
        out.nodes_place = between->place;
        return;
    }
    if (!probe)
        throw InputError(node.place, out.key,
                         out.kind == BenchRecord::Kind::impedance
                             ? "the key `between` is missing; expected the two nodes that were measured"
                             : "found neither `probe` nor `between`; expected one of the two");
    if (!probe->is_scalar()) fail_expecting(*probe, reader.path_of("probe"), "the name of a probe");
    const auto known =
        std::find_if(probes.begin(), probes.end(), [&](const Probe& p) { return p.name == probe->scalar; });
    if (known == probes.end()) {
        std::vector<std::string> names;
        names.reserve(probes.size());
        for (const Probe& p : probes) names.push_back(p.name);
        reader.fail(*probe, "probe",
                    fmt::format("`{}` is no probe of this file", probe->scalar) +
                        (names.empty() ? "; it has no `probes`" : suggestion(probe->scalar, names)));
    }
    out.probe = known->name;
    out.from = known->from;
    out.to = known->to;
    out.nodes_place = probe->place;
}

void read_at(const Node& node, FieldReader& reader, BenchRecord& out, ReadContext& context) {
    const std::string expected = "`unpowered`, `{point: NAME}`, or `{edge, vds, current, complementary}`";
    const Node* at = reader.take("at");
    if (!at) throw InputError(node.place, out.key, "the key `at` is missing; expected " + expected);
    const std::string path = reader.path_of("at");
    out.at_place = at->place;
    if (at->is_scalar()) {
        out.unpowered = at->scalar == "unpowered";
        if (!out.unpowered)
            fail_expecting(
                *at, path,
                fmt::format("{}; a point of the path is written `at: {{point: {}}}`", expected, at->scalar));
        return;
    }
    if (!at->is_map()) fail_expecting(*at, path, expected);
    FieldReader inner(*at, path, context);
    const Node* point = inner.take("point");
    if (!point) {
        describe_point(inner, out.given.emplace());
        inner.finish();
        return;
    }
    for (const char* key : {"edge", "vds", "current", "complementary"})
        if (const Node* other = inner.take(key))
            inner.fail(*other, key, "found beside `point`, which has it already");
    inner.finish();
    if (!point->is_scalar() || point->scalar.empty())
        fail_expecting(*point, inner.path_of("point"), "the name of a point of the path");
    out.point = point->scalar;
    out.at_place = point->place;
}

}  // namespace

std::pair<std::string, std::string> read_between(const Node& node, const std::string& path) {
    const std::string expected = "two nodes, such as `[\"gate pin[1]\", \"Kelvin pin[1]\"]`";
    if (!node.is_list() || node.items.size() != 2) fail_expecting(node, path, expected);
    for (size_t k = 0; k < 2; ++k)
        if (!node.items[k].is_scalar() || node.items[k].scalar.empty())
            fail_expecting(node.items[k], fmt::format("{}[{}]", path, k + 1),
                           "a node's name in quotes, such as `\"gate pin[1]\"`");
    if (node.items[0].scalar == node.items[1].scalar)
        fail_expecting(node.items[1], path + "[2]", "another node than the first");
    return {node.items[0].scalar, node.items[1].scalar};
}

BenchRecord read_bench_record(const Node& node, size_t number, const std::vector<Probe>& probes,
                              ReadContext& context) {
    BenchRecord out;
    out.key = fmt::format("records[{}]", number);
    out.name = fmt::format("record {}", number);
    out.place = node.place;
    FieldReader reader(node, out.key, context);
    reader.text("name", out.name);
    // All keys are known before any is missed, so that a mistyped one is named as that.
    for (const char* key : {"waveform", "ring", "impedance", "probe", "between", "at", "driver"})
        reader.take(key);
    reader.finish();
    read_kind(node, reader, out, context);
    read_nodes(node, reader, probes, out);
    read_at(node, reader, out, context);
    int supply = 0;
    reader.choice("driver", supply, supply_names, !is_mandatory);
    out.driver_high_impedance = supply == 1;
    if (const Node* driver = reader.take("driver"); driver && !out.unpowered)
        reader.fail(*driver, "driver", "goes with `at: unpowered`; a powered driver is supplied");
    return out;
}

}  // namespace ringquell::internal
