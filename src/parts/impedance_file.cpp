#include "ringquell/impedance_file.h"

#include <fmt/format.h>

#include <filesystem>
#include <fstream>

#include "base/text_lines.h"
#include "parts/impedance_csv.h"
#include "parts/touchstone.h"

namespace ringquell {

using namespace internal;

std::vector<ImpedancePoint> read_impedance_file(const std::string& path, std::vector<Warning>* warnings) {
    const Place place{path};
    std::error_code error;
    if (std::filesystem::is_directory(path, error))
        throw InputError(place, "", "is a directory; expected a file");
    std::ifstream in(path, std::ios::binary);
    if (!in) throw InputError(place, "", "cannot be read; expected a file");
    // One byte beyond the limit is enough to know; so a pipe without end is refused, too.
    std::string text(largest_impedance_file_bytes + 1, '\0');
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<size_t>(in.gcount()));
    if (text.size() > largest_impedance_file_bytes) {
        throw InputError(
            place, "",
            fmt::format("exceeds {} MiB; expected an impedance curve", largest_impedance_file_bytes >> 20));
    }
    const std::string ending = lower_case(std::filesystem::path(path).extension().string());
    return ending == ".s1p" || ending == ".ts" ? parse_touchstone(text, path, warnings)
                                               : parse_impedance_csv(text, path, warnings);
}

}  // namespace ringquell
