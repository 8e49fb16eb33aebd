#include "command/variants.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <string_view>
#include <utility>

#include "base/text_lines.h"
#include "command/command.h"
#include "ringquell/error.h"
#include "ringquell/read_case.h"

namespace ringquell::command {

namespace {

namespace fs = std::filesystem;

constexpr double most = 10000;  // more is no table to read, and a day of work

std::vector<std::string> cases_in(const std::string& folder) {
    std::vector<std::string> out = yaml_files(folder);
    std::erase_if(out, [](const std::string& file) { return !is_case_file(file); });
    if (out.empty())
        throw InputError({folder}, "CASE",
                         "the folder holds no case; expected YAML files with the key `ringquell`");
    return out;
}

std::vector<std::string> files_of(const std::vector<std::string>& names) {
    std::vector<std::string> out;
    for (const std::string& name : names) {
        std::error_code ignored;
        if (!fs::is_directory(name, ignored)) {
            out.push_back(name);
            continue;
        }
        const std::vector<std::string> more = cases_in(name);
        out.insert(out.end(), more.begin(), more.end());
    }
    for (size_t i = 0; i < out.size(); ++i)
        for (size_t k = 0; k < i; ++k) {
            std::error_code ignored;
            if (out[i] == out[k] || fs::equivalent(out[i], out[k], ignored))
                throw InputError(
                    {out[i]}, "CASE",
                    out[i] == out[k]
                        ? std::string("is named twice; expected each case once")
                        : fmt::format("is the same file as {}; expected each case once", out[k]));
        }
    return out;
}

struct Sweep {
    std::string key;
    std::vector<std::string> values;
};

/// At commas that stand in no bracket, brace or quote.
std::vector<std::string> parted(std::string_view text) {
    std::vector<std::string> out{""};
    int depth = 0;
    char quote = 0;
    for (const char c : text) {
        if (quote) {
            if (c == quote) quote = 0;
        } else if (c == '"' || c == '\'') {
            quote = c;
        } else if (c == '{' || c == '[') {
            ++depth;
        } else if (c == '}' || c == ']') {
            --depth;
        } else if (c == ',' && depth == 0) {
            out.emplace_back();
            continue;
        }
        out.back() += c;
    }
    for (std::string& value : out) value = std::string(internal::trimmed(value));
    return out;
}

Sweep sweep_of(const std::string& text) {
    const size_t equals = text.find('=');
    if (equals == std::string::npos || equals == 0)
        throw InputError({}, "--each",
                         fmt::format("found `{}`; expected key=value,value such as "
                                     "`gate_path.resistor=4.7ohm,10ohm`",
                                     text));
    Sweep out{text.substr(0, equals), parted(std::string_view(text).substr(equals + 1))};
    for (size_t i = 0; i < out.values.size(); ++i) {
        if (out.values[i].empty())
            throw InputError({}, "--each",
                             fmt::format("found an empty value in `{}`; expected one between "
                                         "every two commas",
                                         text));
        if (std::find(out.values.begin(), out.values.begin() + static_cast<std::ptrdiff_t>(i),
                      out.values[i]) != out.values.begin() + static_cast<std::ptrdiff_t>(i))
            throw InputError(
                {}, "--each",
                fmt::format("found `{}` twice for `{}`; expected each value once", out.values[i], out.key));
    }
    return out;
}

std::vector<Sweep> sweeps_of(const std::vector<std::string>& texts) {
    std::vector<Sweep> out;
    double combinations = 1;
    std::string product;
    for (const std::string& text : texts) {
        Sweep sweep = sweep_of(text);
        for (const Sweep& before : out)
            if (before.key == sweep.key)
                throw InputError(
                    {}, "--each",
                    fmt::format("`{}` is swept twice; expected all its values in one", sweep.key));
        combinations *= static_cast<double>(sweep.values.size());
        product += fmt::format("{}{}", product.empty() ? "" : " x ", sweep.values.size());
        out.push_back(std::move(sweep));
    }
    if (combinations > most)
        throw InputError({}, "--each",
                         fmt::format("found {:.15g} variants ({}); expected at most {:.15g}", combinations,
                                     product, most));
    return out;
}

}  // namespace

std::vector<CaseVariant> variants_of(const std::vector<std::string>& names,
                                     const std::vector<std::string>& settings,
                                     const std::vector<std::string>& sweeps) {
    const std::vector<Sweep> each = sweeps_of(sweeps);
    const std::vector<std::string> files = files_of(names);
    if (!each.empty() && files.size() > 1)
        throw InputError(
            {}, "--each",
            fmt::format("found {} cases; expected one, of which variants are made", files.size()));
    if (static_cast<double>(files.size()) > most)
        throw InputError({}, "CASE",
                         fmt::format("found {} cases; expected at most {:.15g}", files.size(), most));
    std::vector<CaseVariant> out;
    out.reserve(files.size());
    for (const std::string& file : files) out.push_back({file, settings});
    for (const Sweep& sweep : each) {
        std::vector<CaseVariant> more;
        for (const CaseVariant& v : out)
            for (const std::string& value : sweep.values) {
                more.push_back(v);
                more.back().settings.push_back(sweep.key + "=" + value);
            }
        out = std::move(more);
    }
    return out;
}

}  // namespace ringquell::command
