#include <fmt/format.h>

#include <tuple>

#include "reader/bench_record.h"
#include "reader/field_reader.h"
#include "reader/spread.h"
#include "ringquell/bench_file.h"
#include "ringquell/read_case.h"

namespace ringquell {

using namespace internal;

namespace {

void check_version(const Node& root) {
    const Node* version = root.find("ringquell_bench");
    if (!version && root.find("ringquell"))
        throw InputError(
            root.place, "ringquell",
            "this is a case file; expected a bench file, which begins with `ringquell_bench: 1` and "
            "names the case as `case`");
    if (!version) throw InputError(root.place, "", "the key `ringquell_bench` is missing");
    if (!version->is_scalar() || version->scalar != "1")
        fail_expecting(*version, "ringquell_bench", "1, the version of the format that this program reads");
}

Probe read_probe(const Node& node, const std::string& name, ReadContext& context) {
    Probe out;
    out.name = name;
    FieldReader reader(node, join_key("probes", name), context);
    const Node* between = reader.take("between", is_mandatory);
    reader.number("capacitance", out.capacitance_f, farads);
    reader.number("resistance", out.resistance_ohm, positive(ohms));
    reader.number("inductance", out.inductance_h, henries);
    reader.finish();
    std::tie(out.from, out.to) = read_between(*between, reader.path_of("between"));
    out.place = between->place;
    // More than a coaxial cable at a high-impedance input has.
    constexpr double much_f = 1e-9;
    if (out.capacitance_f > much_f)
        warn_once(
            context, reader.path_of("capacitance"),
            fmt::format("{} is much for a probe; differential ones have about a picofarad, passive ones ten",
                        engineering(out.capacitance_f, Dimension::capacitance)));
    if (!out.stands() && out.inductance_h != 0)
        warn_once(context, reader.path_of("inductance"),
                  "without `capacitance` or `resistance` behind it no current flows, and it does nothing");
    return out;
}

std::vector<Probe> read_probes(const Node* node, ReadContext& context) {
    std::vector<Probe> out;
    if (!node) return out;
    if (!node->is_map()) fail_expecting(*node, "probes", "a map from the probes' names to their values");
    for (const auto& [key, value] : node->entries) out.push_back(read_probe(value, key.text, context));
    return out;
}

std::vector<BenchRecord> read_records(const Node& list, const std::vector<Probe>& probes,
                                      ReadContext& context) {
    if (!list.is_list() || list.items.empty())
        fail_expecting(list, "records", "a list of one record or more");
    std::vector<BenchRecord> out;
    for (size_t i = 0; i < list.items.size(); ++i) {
        BenchRecord record = read_bench_record(list.items[i], i + 1, probes, context);
        for (const BenchRecord& other : out)
            if (other.name == record.name)
                throw InputError(record.place, record.key + ".name",
                                 fmt::format("`{}` is the name of {}, too", record.name, other.key));
        out.push_back(std::move(record));
    }
    return out;
}

ModelError read_model_error(const Node& node, ReadContext& context) {
    ModelError out;
    if (!node.is_map()) {
        if (!node.is_scalar() || node.scalar != "0")
            fail_expecting(node, "model_error",
                           "0 for none, or a map of `frequency`, `damping` and `damping_at_least`");
        return {0, 0, 0};
    }
    FieldReader reader(node, "model_error", context);
    reader.number("frequency", out.frequency, fraction);
    reader.number("damping", out.damping, fraction);
    reader.number("damping_at_least", out.damping_at_least, fraction);
    reader.finish();
    return out;
}

/// As under `spread` of the case, but the key is `unknown`.
std::vector<Tolerance> read_unknown(const Node& node, const Case& input, ReadContext& context) {
    try {
        return read_spread(node, input, context);
    } catch (const InputError& error) {
        constexpr std::string_view there = "spread";
        if (!error.key().starts_with(there)) throw;
        throw InputError(error.place(), "unknown" + error.key().substr(there.size()), error.text());
    }
}

/// Its path, and the case itself.
void read_its_case(const Node& node, const std::vector<std::string>& settings, BenchFile& out,
                   ReadContext& context) {
    if (!node.is_scalar() || node.scalar.empty()) fail_expecting(node, "case", "the path of a case file");
    out.case_file = beside(node.scalar, node.place, context);
    read_text_file(out.case_file, node.place, "case");  // so that a missing file is an error at its name
    out.input = read_case(out.case_file, settings, &context.files_read);
    context.positions = out.input.n();
}

void warn_of_idle_probes(const BenchFile& bench, ReadContext& context) {
    for (const Probe& probe : bench.probes) {
        bool used = false;
        for (const BenchRecord& r : bench.records) used = used || r.probe == probe.name;
        if (!used) warn_once(context, join_key("probes", probe.name), "no record was taken with this probe");
    }
}

}  // namespace

BenchFile read_bench(const std::string& path, const std::vector<std::string>& settings,
                     std::vector<std::string>* files_read) {
    ReadContext context;
    context.main_file = path;
    BenchFile out;
    out.file = path;
    const Node root = parse_document(read_named_file(path, {}, "", context), path);
    if (root.is_null()) throw InputError({path, 0, 0}, "", "the file is empty");
    if (!root.is_map()) fail_expecting(root, "", "the keys of a bench file, `ringquell_bench: 1` first");
    check_version(root);
    FieldReader reader(root, "", context);
    reader.take("ringquell_bench");
    const Node* of_case = reader.take("case", is_mandatory);
    const Node* probes = reader.take("probes");
    const Node* records = reader.take("records", is_mandatory);
    const Node* model_error = reader.take("model_error");
    const Node* unknown = reader.take("unknown");
    reader.finish();

    out.probes = read_probes(probes, context);
    out.records = read_records(*records, out.probes, context);
    if (model_error) out.model_error = read_model_error(*model_error, context);
    read_its_case(*of_case, settings, out, context);
    out.unknown_given = unknown != nullptr;
    out.unknown_typical = unknown && unknown->is_scalar();
    out.unknown = unknown ? read_unknown(*unknown, out.input, context) : out.input.spread;
    warn_of_idle_probes(out, context);
    out.warnings = std::move(context.warnings);
    if (files_read)
        files_read->insert(files_read->end(), context.files_read.begin(), context.files_read.end());
    return out;
}

}  // namespace ringquell
