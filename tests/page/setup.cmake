# Copies the browser's tests to FOLDER and installs what they need there, from the npm registry, once for each lock file.
file(GLOB files ${CMAKE_CURRENT_LIST_DIR}/*.mjs ${CMAKE_CURRENT_LIST_DIR}/*.json)
file(COPY ${files} DESTINATION ${FOLDER})
file(SHA256 ${FOLDER}/package-lock.json lock)
set(installed ${FOLDER}/node_modules/.ringquell-${lock})
if(NOT EXISTS ${installed})
    execute_process(COMMAND npm ci --ignore-scripts --no-audit --no-fund WORKING_DIRECTORY ${FOLDER} COMMAND_ERROR_IS_FATAL ANY)
    file(TOUCH ${installed})
endif()
