#include "ringquell/bead_file.h"

#include <algorithm>

#include "reader/field_reader.h"
#include "reader/measured.h"
#include "reader/merge.h"

namespace ringquell {

using namespace internal;

Bead read_bead_file(const std::string& file, std::pair<double, double> fit_band_hz,
                    std::vector<std::string>* files_read) {
    ReadContext context;
    context.main_file = file;
    context.fit_band_hz = fit_band_hz;
    Node root = parse_document(read_named_file(file, {}, "", context), file);
    if (root.is_null()) throw InputError({file, 0, 0}, "", "the file is empty");
    if (!root.is_map()) fail_expecting(root, "bead", "a map with the keys of a bead");
    if (root.find("file")) root = expand_part(root, "bead", context);
    Bead bead = read_bead(root, "bead", context);
    // A measured bead is named after its curve; beside other files the file's own name says more.
    if (!root.find("name")) bead.name = file;
    if (files_read)
        files_read->insert(files_read->end(), context.files_read.begin(), context.files_read.end());
    return bead;
}

bool is_bead_file(const std::string& file) {
    const Node root = parse_document(read_text_file(file), file);
    if (!root.is_map()) return false;
    constexpr const char* of_beads[] = {"sections", "curve", "dc_resistance", "resistance", "inductance"};
    constexpr const char* of_others[] = {"kind", "channel", "ringquell"};
    const auto has = [&](const char* key) { return root.find(key) != nullptr; };
    return std::any_of(std::begin(of_beads), std::end(of_beads), has) &&
           std::none_of(std::begin(of_others), std::end(of_others), has);
}

}  // namespace ringquell
