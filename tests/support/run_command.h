// Runs the command from outside, in folders that are gone afterwards.
#pragma once

#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include "test_paths.h"

namespace fs = std::filesystem;

inline std::string content(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

inline void write(const fs::path& file, const std::string& text) {
    std::ofstream(file, std::ios::binary) << text;
}

/// A folder of its own for one test, gone at its end.
struct Folder {
    fs::path path;
    Folder() {
        std::string name = (fs::temp_directory_path() / "ringquell-test-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path = name;
    }
    ~Folder() { fs::remove_all(path); }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    std::string operator/(const std::string& name) const { return (path / name).string(); }
    size_t entries() const {
        return static_cast<size_t>(std::distance(fs::directory_iterator(path), fs::directory_iterator()));
    }
};

struct Ran {
    int status = -1;
    std::string out, err;
};

/// Runs the command with these arguments (as a shell reads them) in a folder.
inline Ran run(const std::string& arguments, const std::string& in_folder = ".") {
    Folder scratch;
    const std::string line = "cd '" + in_folder + "' && '" RINGQUELL_COMMAND "' " + arguments + " >'" +
                             scratch / "out" + "' 2>'" + scratch / "err" + "'";
    const int status = std::system(line.c_str());
    return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, content(scratch / "out"), content(scratch / "err")};
}
