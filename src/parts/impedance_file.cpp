#include "ringquell/impedance_file.h"

#include <filesystem>

#include "base/text_file.h"
#include "base/text_lines.h"
#include "parts/impedance_csv.h"
#include "parts/touchstone.h"

namespace ringquell {

using namespace internal;

std::vector<ImpedancePoint> read_impedance_file(const std::string& path, std::vector<Warning>* warnings) {
    const std::string text = text_of_file(path, largest_impedance_file_bytes, "an impedance curve");
    const std::string ending = lower_case(std::filesystem::path(path).extension().string());
    return ending == ".s1p" || ending == ".ts" ? parse_touchstone(text, path, warnings)
                                               : parse_impedance_csv(text, path, warnings);
}

}  // namespace ringquell
