#include "base/text_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "ringquell/error.h"

namespace ringquell::internal {

std::string text_of_file(const std::string& path, std::size_t largest_bytes, const std::string& expected) {
    const Place place{path};
    std::error_code error;
    if (std::filesystem::is_directory(path, error))
        throw InputError(place, "", "is a directory; expected a file");
    std::ifstream in(path, std::ios::binary);
    if (!in) throw InputError(place, "", "cannot be read; expected a file");
    const std::uintmax_t size = std::filesystem::file_size(path, error);
    // One byte beyond the limit is enough to know. A file that tells its size is read at once.
    const std::size_t most = largest_bytes + 1, piece = std::size_t{1} << 20;
    std::string text;
    if (!error) text.reserve(static_cast<std::size_t>(std::min<std::uintmax_t>(size + piece, most)));
    while (in && text.size() < most) {
        const std::size_t before = text.size();
        text.resize(std::min(before + piece, most));
        in.read(text.data() + before, static_cast<std::streamsize>(text.size() - before));
        text.resize(before + static_cast<std::size_t>(in.gcount()));
    }
    if (text.size() > largest_bytes)
        throw InputError(place, "",
                         fmt::format("exceeds {} MiB; expected {}", largest_bytes >> 20, expected));
    return text;
}

}  // namespace ringquell::internal
