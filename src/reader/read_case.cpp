#include "ringquell/read_case.h"

#include <fstream>

#include "reader/assumed.h"
#include "reader/couplings.h"
#include "reader/cure.h"
#include "reader/field_reader.h"
#include "reader/kelvin.h"
#include "reader/merge.h"
#include "reader/operation.h"
#include "reader/positions.h"
#include "reader/settings.h"
#include "reader/spread.h"
#include "reader/warnings.h"

namespace ringquell {

using namespace internal;
namespace {

Case read_tree(Node root, const std::string& file_name, const std::vector<std::string>& settings,
               std::vector<std::string>* files_read) {
    ReadContext context;
    context.main_file = file_name;
    if (root.is_null()) throw InputError({file_name, 0, 0}, "", "the file is empty");
    if (!root.is_map()) fail_expecting(root, "", "the keys of a case, `ringquell: 1` first");
    if (const Node* bench = root.find("ringquell_bench"); bench && !root.find("ringquell"))
        throw InputError(
            bench->place, "ringquell_bench",
            "this is a bench file, of what was measured; expected a case file, such as the one that it "
            "names as `case`");
    for (const std::string& text : settings) apply_setting(root, text, context);
    expand_parts(root, context);

    FieldReader reader(root, "", context);
    Case out;
    out.file = file_name;
    const Node* version = reader.take("ringquell", is_mandatory);
    if (version && !(version->is_scalar() && version->scalar == "1"))
        fail_expecting(*version, "ringquell", "1, the version of the format that this program reads");
    reader.text("title", out.title);
    const Node* positions = reader.take("positions", is_mandatory);
    if (positions) context.positions = read_position_count(*positions);
    reader.take("device", is_mandatory);
    for (const char* key : position_keys) reader.take(key);
    const Node* buses = reader.take("buses");
    const Node* driver = reader.take("driver", is_mandatory);
    const Node* power_loop = reader.take("power_loop", is_mandatory);
    const Node* overrides = reader.take("overrides");
    const Node* couplings = reader.take("couplings");
    const Node* operation = reader.take("operation", is_mandatory);
    const Node* require = reader.take("require", is_mandatory);
    const Node* spread = reader.take("spread");
    const Node* cure = reader.take("cure");
    const Node* assumed = reader.take("assumed");
    const Node* measured = reader.take("measured");
    reader.finish();

    out.require = read_requirement(*require, context);
    context.judged_band_hz = {out.require.band_low_hz, out.require.band_high_hz};
    if (require->find("band")) context.fit_band_hz = {out.require.band_low_hz, out.require.band_high_hz};
    ReadPositions read = read_positions(root, overrides, context);
    out.positions = std::move(read.positions);
    FieldReader shared(root, "", context);
    if (buses) shared.block("buses", out.buses, false, DescribeBuses{});
    if (driver) shared.block("driver", out.driver);
    if (power_loop) shared.block("power_loop", out.power_loop);
    if (couplings) out.couplings = read_couplings(*couplings, context, out.driver, out.buses);
    out.operation = read_operation(*operation, read.trees, context);
    join_kelvin_pins(out, root, context);
    check_channels(out);
    check_judge_held(*require, out);
    if (measured) out.measured = read_measured_rings(*measured, context);
    if (spread) out.spread = read_spread(*spread, out, context);
    if (cure) out.cure = read_cure(*cure, out, context);
    if (assumed) out.assumed = read_assumed(*assumed, out, settings);
    out.warnings = plausibility_warnings(out);
    out.warnings.insert(out.warnings.end(), context.warnings.begin(), context.warnings.end());
    if (files_read)
        files_read->insert(files_read->end(), context.files_read.begin(), context.files_read.end());
    return out;
}

}  // namespace

Case read_case(const std::string& file, const std::vector<std::string>& settings,
               std::vector<std::string>* files_read) {
    const std::string text = read_text_file(file);
    if (files_read) files_read->push_back(file);
    return read_case_text(text, file, settings, files_read);
}

Case read_case_text(std::string_view text, const std::string& file_name,
                    const std::vector<std::string>& settings, std::vector<std::string>* files_read) {
    return read_tree(parse_document(text, file_name), file_name, settings, files_read);
}

bool is_case_file(const std::string& file) {
    std::ifstream in(file);
    for (std::string line; std::getline(in, line);)
        if (line.starts_with("ringquell:") || line.starts_with("\"ringquell\"")) return true;
    return false;
}

}  // namespace ringquell
