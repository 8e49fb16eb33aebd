// The inductance of a shape in words and as JSON.
#include "ringquell/inductance.h"

#include <fmt/format.h>

#include "report/values.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

std::string inductance_text(const Inductance& result, bool quiet) {
    std::string out = engineering(result.inductance_h, Dimension::inductance, 6) + "\n";
    if (quiet) return out;
    out +=
        fmt::format("formula: {}\nsource: {}\nholds: {}\n", result.formula, result.source, result.validity);
    for (const std::string& w : result.warnings) out += fmt::format("warning: {}\n", w);
    return out;
}

std::string inductance_json(const std::string& shape, const std::map<std::string, double>& dimensions_m,
                            const Inductance& result) {
    return printed({{"ringquell", version},
                    {"verb", "inductance"},
                    {"shape", shape},
                    {"dimensions_m", dimensions_m},
                    {"inductance_h", result.inductance_h},
                    {"formula", result.formula},
                    {"source", result.source},
                    {"validity", result.validity},
                    {"warnings", result.warnings}});
}

}  // namespace ringquell
