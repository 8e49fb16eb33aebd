#include "reader/read_context.h"

#include <algorithm>
#include <filesystem>

#include "reader/document.h"

namespace ringquell::internal {

void warn_once(ReadContext& context, const std::string& key, const std::string& text) {
    const Warning warning{key, text};
    auto& all = context.warnings;
    if (std::find(all.begin(), all.end(), warning) == all.end()) all.push_back(warning);
}

std::string beside(const std::string& path, const Place& named_at, const ReadContext& context) {
    namespace fs = std::filesystem;
    const fs::path from = named_at.file == "--set" ? context.main_file : named_at.file;
    return (from.parent_path() / path).lexically_normal().string();
}

std::string read_named_file(const std::string& path, const Place& named_at, const std::string& key,
                            ReadContext& context) {
    std::string out = read_text_file(path, named_at, key);
    context.files_read.push_back(path);
    return out;
}

}  // namespace ringquell::internal
