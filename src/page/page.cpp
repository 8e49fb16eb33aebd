#include "ringquell/page.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <sstream>

#include "base/fnv1a.h"
#include "page/calibrate_html.h"
#include "page/compare_html.h"
#include "page/data.h"
#include "page/html.h"
#include "ringquell/numbers.h"
#include "ringquell/quantity.h"
#include "ringquell/read_case.h"
#include "ringquell/write_case.h"

namespace ringquell {

using namespace internal;

Page make_page(const Case& input, const PageOptions& options) {
    PageData data = page_data(input, options);
    std::string html = page_html(input, data);
    return {std::move(data.explanation.result), std::move(html)};
}

std::string make_compare_page(const Case& a, const Case& b, const Comparison& compared,
                              const std::string& made) {
    return compare_html(a, b, compared, made);
}

std::string make_calibrate_page(const Case& input, const Calibration& calibration, const std::string& made) {
    return calibrate_html(input, calibration, made);
}

std::string text_hash(const std::string& text) {
    return fmt::format("{:016x}", fnv1a_64(text));
}

PageRecord read_page(const std::string& html, const std::string& file) {
    const auto refuse = [&](const char* what) -> InputError {
        return {{file}, "", fmt::format("{}; expected a page that `ringquell report` has written", what)};
    };
    const std::string start = fmt::format("<script type=\"application/json\" id=\"{}\">", page_data_id);
    const size_t begin = html.find(start);
    if (begin == std::string::npos) throw refuse("found no data of this command");
    const size_t end = html.find("</script>", begin);
    if (end == std::string::npos) throw refuse("the page ends within its data");
    try {
        const auto json =
            nlohmann::json::parse(html.begin() + static_cast<std::ptrdiff_t>(begin + start.size()),
                                  html.begin() + static_cast<std::ptrdiff_t>(end));
        const auto& from = json.at("case");
        PageRecord out{
            json.at("ringquell"),           json.at("made"), from.at("file"), json.at("check").at("title"),
            json.at("check").at("verdict"), from.at("hash"), from.at("text")};
        if (text_hash(out.case_text) != out.hash)
            throw refuse("the case in the page is not the one its hash is of");
        return out;
    } catch (const nlohmann::json::exception&) {
        throw refuse("the data of the page are damaged");
    }
}

namespace {

std::vector<std::string> lines_of(const std::string& text) {
    std::istringstream in(text);
    std::vector<std::string> out;
    for (std::string line; std::getline(in, line);) out.push_back(line);
    return out;
}

/// What is no longer in `before` ("-") and what is new in `after` ("+"): by the longest common subsequence of
/// lines, in the table of the textbooks; what both begin and end with is taken off first.
std::vector<std::string> changed_lines(const std::string& before, const std::string& after) {
    std::vector<std::string> was = lines_of(before), is = lines_of(after), out;
    size_t begin = 0;
    while (begin < was.size() && begin < is.size() && was[begin] == is[begin]) ++begin;
    while (was.size() > begin && is.size() > begin && was.back() == is.back()) {
        was.pop_back();
        is.pop_back();
    }
    was.erase(was.begin(), was.begin() + static_cast<std::ptrdiff_t>(begin));
    is.erase(is.begin(), is.begin() + static_cast<std::ptrdiff_t>(begin));
    constexpr size_t largest = 4'000'000;  // cells; beyond them, all of both
    const bool table = was.size() * is.size() <= largest;
    std::vector<std::vector<int>> common;
    if (table) common.assign(was.size() + 1, std::vector<int>(is.size() + 1));
    for (size_t i = was.size(); table && i-- > 0;)
        for (size_t j = is.size(); j-- > 0;)
            common[i][j] =
                was[i] == is[j] ? common[i + 1][j + 1] + 1 : std::max(common[i + 1][j], common[i][j + 1]);
    size_t i = 0, j = 0;
    while (i < was.size() || j < is.size()) {
        const bool both = i < was.size() && j < is.size();
        if (table && both && was[i] == is[j])
            ++i, ++j;
        else if (i < was.size() && (!both || !table || common[i + 1][j] >= common[i][j + 1]))
            out.push_back("- " + was[i++]);
        else
            out.push_back("+ " + is[j++]);
    }
    return out;
}

template <class T>
std::string values_text(const NumberOf<T>& number) {
    std::string out;
    std::vector<double> told;
    for (const double* value : number.values) {
        if (std::find(told.begin(), told.end(), *value) != told.end()) continue;
        out += (out.empty() ? "" : ", ") + engineering(*value, number.dimension, 6);
        told.push_back(*value);
    }
    return out;
}

}  // namespace

std::vector<std::string> changed_since(const PageRecord& record, const Case& now) {
    const std::string text = write_case(now);
    if (text == record.case_text) return {};
    std::vector<std::string> out;
    Case before = read_case_text(record.case_text, "the page");
    if (before.n() == now.n()) {
        const std::vector<std::string> keys = number_keys(now);
        for (const std::string& key : number_keys(before)) {
            if (std::find(keys.begin(), keys.end(), key) == keys.end()) continue;
            const Number a = find_number(before, key);
            const ConstNumber b = find_number(now, key);
            const auto equal = [](const double* x, const double* y) { return *x == *y; };
            if (a.values.size() != b.values.size() ||
                std::equal(a.values.begin(), a.values.end(), b.values.begin(), equal))
                continue;
            out.push_back(fmt::format("{}: was {}, is {}", key, values_text(a), values_text(b)));
            for (size_t k = 0; k < a.values.size(); ++k) *a.values[k] = *b.values[k];
        }
    }
    for (std::string& line : changed_lines(write_case(before), text)) out.push_back(std::move(line));
    return out;
}

}  // namespace ringquell
